"""Which of many comparisons are clear."""

import pytest
from footroom.analysis.families import Question, judge
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests


def questions(first, rest, pair="ab"):
    return [Question(pair, True, p) for p in first] + [Question(pair, False, p) for p in rest]


def test_first_questions_about_several_pairs_go_by_holm():
    """statsmodels.stats.multitest.multipletests(method="holm")."""
    p = [0.03, 0.04, 0.002]
    asked = [Question(pair, True, one) for pair, one in zip("abc", p, strict=True)]
    answers, sizes = judge(asked)
    assert [a.p_holm for a in answers] == pytest.approx(multipletests(p, method="holm")[1].tolist())
    assert [a.clear for a in answers] == [False, False, True]
    assert (sizes.first, sizes.rest, sizes.first_by) == (3, 0, "Holm")


@settings(max_examples=15, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=2, max_size=2))
def test_two_feet_go_by_hochberg(p):
    """statsmodels.stats.multitest.multipletests(method="simes-hochberg")."""
    answers, sizes = judge(questions(p, []))
    assert [a.p_holm for a in answers] == pytest.approx(multipletests(p, method="simes-hochberg")[1].tolist())
    assert sizes.first_by == "Hochberg"


def test_the_rest_counts_only_where_all_first_questions_of_its_pair_are_clear():
    both, _ = judge(questions([0.001, 0.01], [0.001]))
    one, _ = judge(questions([0.001, 0.2], [0.001]))
    assert (both[2].clear, both[2].opened) == (True, True)
    assert (one[2].clear, one[2].opened, one[2].p_holm) == (False, False, None)
    assert [a.clear for a in one] == [True, False, False]


def test_another_pair_does_not_close_the_rest_but_its_questions_count_in_the_family():
    """The rest of both pairs is one family of two: 0.02 alone is clear, twice 0.02 too; 0.03 is not."""
    for p, clear in ((0.02, True), (0.03, False)):
        asked = questions([0.001], [p], "ab") + questions([0.5], [0.9], "ac")
        answers, _ = judge(asked)
        assert [a.clear for a in answers] == [True, clear, False, False]


def test_what_cannot_be_tested_is_neither_clear_nor_in_a_family():
    answers, sizes = judge(questions([None, 0.01], [0.02, None]))
    assert [a.clear for a in answers] == [False, True, True, False]
    assert (sizes.first, sizes.rest) == (1, 1)
    unopened, _ = judge(questions([None], [0.001]))
    assert unopened[1].clear is False


def test_nothing_asked_nothing_answered():
    assert judge([])[0] == []
