"""The public names are a short list, and each is there."""

import groove


def test_the_public_names_are_this_list() -> None:
    assert set(groove.__all__) == set(groove.PUBLIC_NAMES)
    for name in groove.__all__:
        assert getattr(groove, name) is not None
    assert len(groove.__all__) == 16


def test_another_name_is_an_attribute_error() -> None:
    assert not hasattr(groove, "no_such_name")
