"""A page that was used by a test is what it was when it was opened."""

from tests.page.conftest import SHORT, Made
from tests.page.driven import run_to, start
from tests.page.reused import Reused

CONTROLS = """
() => {
  const others = "#ear-panel *, #record-panel *, #level-record, #record-shelf";
  const all = document.querySelectorAll(`:is(input, select):not(${others})`);
  for (const each of all) {
    if (each.type === "checkbox") each.click();
    else if (each.options) each.selectedIndex = each.options.length - 1;
    else each.value = 90;
    if (each.type === "checkbox") continue;
    for (const event of ["input", "change"]) each.dispatchEvent(new Event(event));
  }
}
"""


def test_a_page_is_put_back_as_it_was_opened(reused: Reused, make_page: Made) -> None:
    path = make_page("short", SHORT)
    with reused.page(path) as opened:
        opened.page.set_viewport_size({"width": 390, "height": 700})
        opened.page.click("#loop-opens")
        opened.run("practicePage.page.setLoop([1, 2], 'bars')")
        run_to(opened, start(opened) + 5)
        opened.run("practicePage.page.log.bars['verse | 1'] = { seconds: 90, clean: 0.6 }")
        opened.run(CONTROLS)
        opened.run("(window.mine = 1)")
    assert reused.left == []
    assert opened.run("'mine' in window") is False


def test_a_page_that_is_not_as_it_was_opened_is_opened_anew(
    reused: Reused, make_page: Made
) -> None:
    path = make_page("short", SHORT)
    with reused.page(path) as opened:
        opened.run("document.getElementById('title').style.color = 'red'")
    assert len(reused.left) == 2 and "red" in reused.left[0]
    assert opened.run("document.getElementById('title').style.color") == ""
