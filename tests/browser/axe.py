"""What axe-core finds on a page, of what is ours."""

from axe_playwright_python.sync_playwright import Axe

LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]
IN_ORDER = "heading-order"
# drawn by the library of the pages in markup that a page cannot change: the menu's list has a `div` between the list
# and its items (rules `list` and `listitem`)
NOT_OURS = ["[data-testid=stSidebarNavItems]"]


def findings(page):
    """Rule, impact and place of what axe finds in what is ours."""
    asked = {"runOnly": [*LEVELS, "best-practice"], "resultTypes": ["violations"]}
    answer = Axe().run(page.tab, context={"exclude": [[place] for place in NOT_OURS]}, options=asked).response
    return [
        f"{found['id']} ({found['impact']}): {node['html'][:200]} | {node.get('failureSummary', '')[:300]}"
        for found in answer["violations"]
        if found["id"] == IN_ORDER or (found["impact"] in ("serious", "critical") and set(LEVELS) & set(found["tags"]))
        for node in found["nodes"]
    ]
