"""W14, W33 (ASVS 1.2.10), statement 24: text never becomes a formula in an exported cell, and comes back as it was."""

import csv
import io

from hypothesis import given, settings
from hypothesis import strategies as st

from labrecords.exchange.cells import as_written, harmless

LIVE = "=+-@\t\r＝＋－＠"
TEXTS = st.one_of(
    st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=40),
    st.builds(
        lambda sign, rest: sign + rest,
        st.sampled_from([*LIVE, "'", "''", "'=", " =", "\n="]),
        st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=20),
    ),
)


@settings(max_examples=1000, deadline=None)
@given(st.lists(TEXTS, min_size=1, max_size=5), st.floats(allow_nan=False), st.integers())
def test_a_thousand_rows_go_out_and_come_back(texts, number, whole):
    out = io.StringIO(newline="")
    csv.writer(out).writerow([*map(harmless, texts), harmless(number), harmless(whole)])
    out.seek(0)
    [row] = csv.reader(out)
    *cells, shown_number, shown_whole = row
    assert not any(cell and cell[0] in LIVE for cell in cells)
    assert [as_written(cell) for cell in cells] == texts
    # Numbers are not text: a minus stays a minus.
    assert (float(shown_number), int(shown_whole)) == (number, whole)


def test_negative_number_is_not_touched_and_a_text_like_it_is():
    assert harmless(-5.2) == -5.2
    assert harmless("-5.2") == "'-5.2"
    assert harmless("plain") == "plain"
