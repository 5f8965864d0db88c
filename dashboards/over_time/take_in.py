"""Import: hand files over, see what each is, try it, take it in and have it read, while other pages keep answering."""

from audit.people.permissions import Deed
from dashboards import layout, session
from dashboards.over_time import take_in_parts

layout.begin("Import", "Hand files over, see what each is, try it without storing, then take it in and have it read.")
session.fragment(Deed.TAKE_IN, every_s=take_in_parts.every_s())(take_in_parts.progress)()
files = take_in_parts.hand_over()
if files:
    take_in_parts.start(files, take_in_parts.proposals(files))
