"""Names of files made from titles, and no two files of one name."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.errors import InternalError
from pegwright.write.names import MAX_NAME_BYTES, joined_files, safe_name


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Harbour Waltz", "Harbour-Waltz"),
        ("Für Elise", "Für-Elise"),
        ("Fu\u0308r", "Für"),
        ("../../etc/passwd", "etc-passwd"),
        ("C:\\Temp\\x", "C-Temp-x"),
        ('a<b>c:d"e/f\\g|h?i*j', "a-b-c-d-e-f-g-h-i-j"),
        ("-rf", "rf"),
        (".hidden", "hidden"),
        ("...", "untitled"),
        ("", "untitled"),
        (" \t\r\n\0", "untitled"),
        ("Dot at the end.", "Dot-at-the-end"),
        ("\u202egnp.exe", "gnp.exe"),
        ("港のワルツ", "港のワルツ"),
        ("\U0001f469\u200d\U0001f4bb", "\U0001f469-\U0001f4bb"),
        ("\udcff", "untitled"),
        # Source: Microsoft, "Naming Files, Paths, and Namespaces": also with an extension, in any case
        ("con", "_con"),
        ("NUL.tar.gz", "_NUL.tar.gz"),
        ("COM1", "_COM1"),
        ("LPT³.txt", "_LPT³.txt"),
        ("COM10", "COM10"),
        ("Concerto", "Concerto"),
        # what a shell would act on
        ("Rock & Roll (live!)", "Rock-Roll-live"),
        ("It's $HOME; 100% `id`", "Its-HOME-100-id"),
        ("&!()", "untitled"),
    ],
)
def test_names_are_made_safe(title: str, name: str) -> None:
    assert safe_name(title) == name


MARKS = "ab.-_ /\\:\0\n\u202e\u0301é港\U0001f469\udc80=CONcon1$'&!()%`;\u037e\u1fef"


@given(st.text(alphabet=st.sampled_from(MARKS)) | st.text(max_size=30))
def test_any_text_gives_a_name_that_every_system_takes(text: str) -> None:
    name = safe_name(text)
    assert name
    assert len(name.encode()) <= MAX_NAME_BYTES + 1
    assert not set(name) & set('<>:"/\\|?*' + "$'&!()%`;")
    assert not any(unicodedata.category(mark)[0] in "CZ" for mark in name)
    assert name[0] not in ".-"
    assert name[-1] not in ". "
    assert unicodedata.is_normalized("NFC", name)
    assert safe_name(name) == name
    assert Path(name).name == name


def test_a_very_long_title_is_cut_between_characters() -> None:
    assert safe_name("x" * 10_000) == "x" * MAX_NAME_BYTES
    assert safe_name("港" * 10_000) == "港" * (MAX_NAME_BYTES // 3)


@given(st.text(alphabet=st.sampled_from("ab -港é/")), st.sampled_from(["a", "b", "a2", "z12"]))
def test_an_ending_is_never_cut(text: str, ending: str) -> None:
    for title in (text, text * 100):
        name = safe_name(title, ending)
        assert name.endswith(f"-{ending}")
        assert len(name.encode()) <= MAX_NAME_BYTES
        assert safe_name(title).startswith(name.removesuffix(f"-{ending}"))


def test_long_titles_that_differ_in_their_ending_alone_have_two_names() -> None:
    title = "ж" * 64  # 128 bytes
    assert safe_name(f"{title} A") == safe_name(f"{title} B")
    assert safe_name(title, "a") != safe_name(title, "b")


def test_files_are_put_together_only_where_no_two_have_one_name() -> None:
    assert joined_files({"a": b"1"}, {"b": b"2"}) == {"a": b"1", "b": b"2"}
    for other in ("a", "A"):
        with pytest.raises(InternalError, match=f"two files would be written as {other}"):
            joined_files({"a": b"1"}, {other: b"2"})
