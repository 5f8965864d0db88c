"""A tab that goes from one test to the next brings nothing along."""

KEPT = "() => [document.cookie, localStorage.length, sessionStorage.length, history.state, innerWidth]"


def test_a_tab_that_was_given_back_has_forgotten_what_it_kept_and_listens_no_more(visit, empty):
    first = visit(1400).open(empty)
    before = first.tab.evaluate(KEPT)
    first.tab.evaluate(
        "() => { document.cookie = 'left=behind'; localStorage.setItem('left', 'behind');"
        " sessionStorage.setItem('left', 'behind'); window.open('about:blank'); }"
    )
    assert "left=behind" in first.tab.evaluate(KEPT)[0]
    visit.over(first)
    second = visit(1280).open(empty)
    assert second.tab is first.tab
    cookie, local, session, _, width = second.tab.evaluate(KEPT)
    assert "left" not in cookie
    assert [local, session, width] == [before[1], before[2], 1280]
    assert len(second.tab.context.pages) == 1
    second.tab.evaluate("() => console.error('heard')")
    second.pause(100)
    assert (first.errors, second.errors) == ([], ["heard"])


def test_two_tabs_at_once_know_nothing_of_each_other(visit, empty):
    one, other = visit().open(empty), visit().open(empty)
    one.tab.evaluate("() => { document.cookie = 'mine=1'; localStorage.setItem('mine', '1'); }")
    other.open(empty)
    assert "mine" not in other.tab.evaluate(KEPT)[0]
    assert other.tab.evaluate("() => localStorage.getItem('mine')") is None
