//! Encodings, digests and names of files.

use proptest::prelude::*;

use super::super::{
    encoding::{Encoding, declares, decode},
    file_slug,
    limits::SLUG_BYTES_MAX,
    *,
};

#[test]
fn utf16_without_a_mark_is_told_by_its_zeros() {
    // Box drawings have a zero byte at the other place.
    let text = "(* ┌──┐ *)\nPROGRAM Pump\nVAR Start : BOOL; END_VAR\nEND_PROGRAM\n".repeat(3);
    for bytes in [
        text.encode_utf16().flat_map(u16::to_le_bytes).collect::<Vec<u8>>(),
        text.encode_utf16().flat_map(u16::to_be_bytes).collect(),
    ] {
        let decoded = decode(&bytes).unwrap();
        assert_eq!(
            (decoded.text.as_str(), decoded.encoding, decoded.replaced),
            (text.as_str(), Encoding::Utf16, false)
        );
        // A byte too many is told.
        assert!(decode(&[bytes.as_slice(), b"x"].concat()).unwrap().replaced);
    }
    for binary in [&b"a\0\0\0b\0\0\0"[..], b"\0", b"ab\0cdefghij", b"\x7fELF\x02\x01\x01\0\0\0\0\0\0\0\0\0"] {
        assert_eq!(decode(binary).unwrap_err(), "no text: it holds zero bytes");
    }
}

#[test]
fn bytes_of_latin_1_are_those_of_windows_1252() {
    // The second column of rows 8 and 9 of index-windows-1252 in the Encoding Standard of the WHATWG, from memory.
    let upper = "€\u{81}‚ƒ„…†‡ˆ‰Š‹Œ\u{8d}Ž\u{8f}\u{90}‘’“”•–—˜™š›œ\u{9d}žŸ";
    let bytes: Vec<u8> = (0x80..=0xff).collect();
    let expected: String = upper.chars().chain((0xa0..=0xff_u8).map(char::from)).collect();
    let decoded = decode(&bytes).unwrap();
    assert_eq!((decoded.text, decoded.encoding, decoded.replaced), (expected, Encoding::Latin1, false));
}

#[test]
fn a_mark_of_utf8_outweighs_slips() {
    let decoded = decode(b"\xef\xbb\xbfa\xffb").unwrap();
    assert_eq!(
        (decoded.text.as_str(), decoded.encoding, decoded.replaced),
        ("a\u{fffd}b", Encoding::Utf8, true)
    );
}

#[test]
fn declarations_are_told_by_their_closing_words() {
    for text in ["VAR x : INT; end_var", "END_PROGRAM", "x End_Function_Block", "xEND_TYPE", "éEND_CLASS"] {
        assert!(declares(text), "{text}");
    }
    for text in ["", "END", "END_", "END_IF; END_WHILE;", "END_VA", "a legend_ of ends"] {
        assert!(!declares(text), "{text}");
    }
}

#[test]
fn a_digest_stays_what_it_was() {
    let problem = Problem {
        severity: Gravity::Note,
        name: "encoding",
        file: Some("a.st".into()),
        message: "`a.st` is not in UTF-8".into(),
    };
    let left_out = LeftOut { name: "a.pdf".into(), why: "no program".into() };
    let files = [("a.st", &b"x\xfc"[..]), ("b.st", b"")];
    // From Python's hashlib, fed with each part behind its length as eight bytes, the lowest first.
    assert_eq!(
        digest::of(Outcome::Read, files.into_iter(), &[left_out], &[problem]),
        "d9b0862872eb1033528c25974e3ecf545920e81710c31fbba10ead12d75f6717"
    );
}

#[test]
fn plain_ids_are_their_own_names_and_others_are_recognised() {
    for id in ["ana", "4711", "ana.lee", "a-b_c", &"x".repeat(80)] {
        assert_eq!(file_slug(id), id);
    }
    for (id, front) in [
        ("", "_--"),
        ("Ana", "Ana--"),
        ("Ana Lee", "Ana-Lee--"),
        ("ä", "_--"),
        ("../../etc/passwd", "etc-passwd--"),
        ("a/b", "a-b--"),
        ("con", "_con--"),
        ("nul.st", "_nul.st--"),
        ("com1", "_com1--"),
        (".hidden", "hidden--"),
        ("-rf", "rf--"),
        ("dot.", "dot.--"),
        (&"x".repeat(81), &format!("{}--", "x".repeat(52))),
    ] {
        let slug = file_slug(id);
        assert!(slug.starts_with(front), "{id}: {slug}");
        assert_eq!(slug.len(), front.len() + 26, "{id}: {slug}");
    }
    // What was made for one id is not the name of the id that is spelt so.
    let made = file_slug("Ana");
    assert_ne!(file_slug(&made), made);
}

/// Ids that are likely to come close to one another.
fn id() -> impl Strategy<Value = String> {
    prop_oneof![
        "[aAbB]{0,3}",
        "(con|NUL|com1|lpt9|aux)(\\.|\\.st|x)?",
        "[ -~]{0,100}",
        "\\PC{0,100}",
        any::<String>(),
        "[aA.\\-_ /\\\\\n\u{202e}ä]{0,6}",
        "(x|X){78,82}",
        "[aA]{0,2}".prop_map(|id| file_slug(&id)),
        "[aA]{0,2}".prop_map(|id| file_slug(&id).to_uppercase()),
    ]
}

proptest! {
    #[test]
    fn names_of_files_are_safe_everywhere(id in id()) {
        let slug = file_slug(&id);
        prop_assert!(!slug.is_empty() && slug.len() <= SLUG_BYTES_MAX);
        prop_assert!(slug.bytes().all(|byte| byte.is_ascii_alphanumeric() || b"-_.".contains(&byte)));
        prop_assert!(!slug.starts_with(['.', '-']) && !slug.ends_with('.'));
        let stem = slug.split('.').next().unwrap().to_ascii_lowercase();
        prop_assert!(!["con", "prn", "aux", "nul"].contains(&stem.as_str()));
        prop_assert!(!(stem.len() == 4 && (stem.starts_with("com") || stem.starts_with("lpt")) && stem.ends_with(|sign: char| sign.is_ascii_digit())));
    }

    #[test]
    fn different_ids_have_names_that_differ_by_more_than_case(one in id(), other in id()) {
        prop_assert_eq!(one == other, file_slug(&one).eq_ignore_ascii_case(&file_slug(&other)));
    }

    #[test]
    fn any_bytes_are_text_or_not(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        if let Ok(decoded) = decode(&bytes) {
            prop_assert!(!decoded.text.contains('\0'));
        }
    }

    #[test]
    fn what_was_written_is_read(text in "[^\0]{0,60}") {
        // A text that begins like a document of another form would be taken for one.
        let text = format!("({text}");
        let read = decode(text.as_bytes()).unwrap();
        prop_assert_eq!((&read.text, read.encoding, read.replaced), (&text, Encoding::Utf8, false));
        let wide: Vec<u8> = [0xfeff].into_iter().chain(text.encode_utf16()).flat_map(u16::to_be_bytes).collect();
        let read = decode(&wide).unwrap();
        prop_assert_eq!((&read.text, read.encoding, read.replaced), (&text, Encoding::Utf16, false));
    }
}
