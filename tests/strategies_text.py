"""Any text: every sign that UTF-8 can hold."""

from hypothesis import strategies as st

any_sign = st.characters(exclude_categories=["Cs"])
"""Every code point but the surrogates: UTF-8 holds just these (Unicode 15, D76).  Hypothesis tries
each to find them by itself, for 2.6 s in every process of a fresh clone."""


def any_text(most: int | None = None) -> st.SearchStrategy[str]:
    """Return texts of so many signs at the most."""
    return st.text(any_sign, max_size=most)
