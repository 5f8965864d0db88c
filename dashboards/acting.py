"""Under which code a change is logged."""

from dashboards import signed_in


def who() -> str:
    """The signed-in role or reader; `unit` when nobody signed in: the log then says that nobody did."""
    account = signed_in.account()
    return "unit" if account is None else account.who
