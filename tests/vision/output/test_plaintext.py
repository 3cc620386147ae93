"""Text from outside hides nothing and steers nothing."""

from hypothesis import given
from hypothesis import strategies as st

from vision.output.plaintext import STEERING, clean


@given(st.text())
def test_nothing_that_steers_or_hides_is_left(text: str) -> None:
    """No direction control, no control character, no half of a pair is left."""
    seen = clean(text)

    assert not STEERING & set(seen)
    assert all(
        ord(letter) >= 0x20 and not 0x7F <= ord(letter) < 0xA0 for letter in seen
    )
    assert seen.encode().decode() == seen


@given(st.text(st.characters(categories=["L", "N", "P"])))
def test_letters_stay_as_they_are(text: str) -> None:
    """Letters, digits and signs of every script are left alone."""
    assert clean(text) == text


def test_line_breaks_become_spaces() -> None:
    """A name stays on one line."""
    assert clean("head\n12\tleft") == "head 12 left"
