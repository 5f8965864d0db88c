"""A process that a test starts serves once somebody listens at its port."""

import socket
import subprocess
import time

from audit.commands.serve_pages import HOST


def begins_to_listen(process: "subprocess.Popen[bytes]", port: int) -> bool:
    """Wait until it does; False where it ended before."""
    while process.poll() is None:
        with socket.socket() as probe:
            if probe.connect_ex((HOST, port)) == 0:
                return True
        time.sleep(0.1)
    return False
