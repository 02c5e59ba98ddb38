"""Charts shared out among processes: which is begun first, and in which order they are told of."""

from groove.cli.jobs import longest_first
from groove.cli.workers import Crew
from tests.cli.command import Command

CHART = "tempo: {bpm}\nmeter: {meter}\nverse:\n| D | A |\nform: verse x{times}\n"


def test_the_longest_song_is_begun_first(groove: Command) -> None:
    """By hand: 8 s at 60 in four, 3 s at 120 in three, 12 s, and 4 s in a file that is longer."""
    for name, bpm, meter, times in (
        ("eight", 60, "4/4", 1),
        ("three", 120, "3/4", 1),
        ("twelve", 60, "3/4", 2),
    ):
        groove.write(f"{name}.txt", CHART.format(bpm=bpm, meter=meter, times=times))
    groove.write("four.txt", CHART.format(bpm=120, meter="4/4", times=1) + "# remark\n" * 50)
    groove.write("broken.txt", "verse:\n| Zebra |\n")
    names = ["broken.txt", "three.txt", "eight.txt", "-", "gone.txt", "four.txt", "twelve.txt"]
    groove.monkeypatch.chdir(groove.folder)
    # What cannot be read comes last, and standard input is left to who plays it.
    assert list(longest_first(names, 2)) == [6, 2, 5, 1, 0, 3, 4]
    assert list(longest_first(names * 5, 2)) == list(range(35))


def test_what_is_begun_first_is_told_of_in_its_place() -> None:
    begun: list[int] = []

    class Begun(Crew[int, int]):
        """A crew of one that works in this process."""

        def _start_one(self) -> None:
            pass

        def _result(self, item: int) -> int:
            begun.append(item)
            return 10 * item

    crew = Begun(lambda item: item, 1, lost=lambda item, code: code)
    assert list(crew.results([3, 4, 5], [2, 0, 1])) == [30, 40, 50]
    assert begun == [5, 3, 4]
    assert list(crew.results([3, 4, 5])) == [30, 40, 50]
    assert begun[3:] == [3, 4, 5]
