"""Published vectors for what the record is built from."""

import hashlib

import pytest
import rfc8785
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.errors import RecordError
from handsfree.record.record_line import canonical
from handsfree.record.signing import public_hex, signature_is_good

# Source: FIPS 180-4 SHA-256, example messages published by NIST (CSRC, examples with intermediate values).
FIPS_180_4 = [
    (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
    (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
    (
        b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
    ),
    (b"a" * 1_000_000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
]


@pytest.mark.parametrize(("message", "digest"), FIPS_180_4, ids=["empty", "abc", "448 bits", "a million a"])
def test_sha_256_gives_the_digests_of_fips_180_4(message, digest):
    assert hashlib.sha256(message).hexdigest() == digest


def test_canonical_form_gives_the_sample_of_rfc_8785():
    # Source: RFC 8785 section 3.2.2 (input) and 3.2.4 (the bytes).
    value = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/",
        "literals": [None, True, False],
    }
    expected = (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    ).encode()
    assert canonical(value) == expected
    assert hashlib.sha256(expected).hexdigest() == "2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb"


def test_members_sort_by_utf_16_units_as_in_rfc_8785():
    # Source: RFC 8785 section 3.2.3.
    value = {
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis",
    }
    text = canonical(value).decode()
    order = ["Carriage Return", "One", "Control", "Latin Small", "Euro Sign", "Emoji", "Hebrew"]
    assert [text.index(name) for name in order] == sorted(text.index(name) for name in order)


@pytest.mark.parametrize(
    ("number", "text"),
    # Source: RFC 8785 appendix B, number serialization samples.
    [
        (0.0, "0"),
        (-0.0, "0"),
        (5e-324, "5e-324"),
        (1.7976931348623157e308, "1.7976931348623157e+308"),
        (9007199254740992.0, "9007199254740992"),
        (295147905179352830000.0, "295147905179352830000"),
        (1e23, "1e+23"),
        (0.000001, "0.000001"),
        (333333333.33333325, "333333333.33333325"),
        (1e-7, "1e-7"),
    ],
)
def test_numbers_are_written_as_in_appendix_b(number, text):
    assert canonical(number) == text.encode()


NUMBERS = st.one_of(
    st.integers(-(2**53) + 1, 2**53 - 1),
    st.floats(allow_nan=False, allow_infinity=False),
    st.floats(-1e17, 1e17),
    st.decimals(-1000, 1000, places=4).map(float),
    st.integers(-400, 400).map(lambda power: float(f"1.5e{power % 40 - 20}")),
)
TEXTS = st.one_of(st.text(), st.text('0123456789.e-+:,[]{}"\\/\x00\x1f\x7f\n'), st.binary().map(bytes.hex))


@settings(deadline=None, max_examples=300)
@given(
    st.recursive(
        st.one_of(st.none(), st.booleans(), NUMBERS, TEXTS),
        lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
        max_leaves=12,
    )
)
def test_the_quick_way_writes_what_the_library_of_the_standard_writes(value):
    # Source: rfc8785, an independent library.
    assert canonical(value) == rfc8785.dumps(value)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 2**53, "\ud800"])
def test_what_has_no_canonical_form_is_refused(value):
    # Source: RFC 8785 section 3.2.2.3 (NaN, Infinity), I-JSON RFC 7493 section 2 (integers, surrogates).
    with pytest.raises(RecordError):
        canonical(value)


# Source: RFC 8032 section 7.1, tests 1 and 2.
RFC_8032 = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24"
        "655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aee"
        "b00d291612bb0c00",
    ),
]


@pytest.mark.parametrize(("secret", "public", "message", "signature"), RFC_8032)
def test_signatures_are_those_of_rfc_8032(secret, public, message, signature):
    key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    text = bytes.fromhex(message)
    assert public_hex(key) == public
    assert key.sign(text).hex() == signature
    assert signature_is_good(public, signature, text)
    assert not signature_is_good(public, signature, text + b"x")
    assert not signature_is_good(public, "zz", text)


def test_the_first_line_of_a_chain_has_the_hash_worked_out_apart():
    # Source: a worked example of ours, made apart from this code with rfc8785 and hashlib.
    first = {
        "by": "role:clinician",
        "prev": "0" * 64,
        "seq": 0,
        "t": "2026-11-25T10:00:00.000Z",
        "type": "session_start",
    }
    assert (
        hashlib.sha256(canonical(first)).hexdigest()
        == "2e79387ba634c0e3e5807d7e4275f3036483c4786a4b73ad283a3a5832297c6a"
    )
