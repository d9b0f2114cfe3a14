//! Names of files for the pages of a student.

use sha2::{Digest, Sha256};

use super::limits::SLUG_BYTES_MAX;

/// Between what is left of an id and the digest of the whole.
const MARK: &str = "--";

/// Characters of the digest: 130 bits of SHA-256 in base 32.
const DIGEST_CHARACTERS: usize = 26;

/// A name of a file, without an extension, that every file system takes: ASCII letters, digits, `-`, `_` and `.`, at most
/// [`SLUG_BYTES_MAX`] of them, none that means something to a system. Different ids have names that differ by more than case.
///
/// An id of small letters, digits and those signs is its own name. Any other keeps what can be kept of it, for people, and
/// has a digest behind.
pub(crate) fn file_slug(id: &str) -> String {
    if is_own_name(id) {
        return id.to_string();
    }
    let kept = SLUG_BYTES_MAX - MARK.len() - DIGEST_CHARACTERS;
    let mut slug: String = id.chars().map(|sign| if is_safe(sign) { sign } else { '-' }).take(kept).collect();
    let start = slug.len() - slug.trim_start_matches(['-', '.']).len();
    slug.drain(..start);
    if slug.is_empty() || is_reserved(&slug) {
        slug.insert(0, '_');
    }
    // Room for the sign that may have been put in front.
    slug.truncate(kept);
    slug + MARK + &digest(id)
}

fn is_safe(sign: char) -> bool {
    sign.is_ascii_alphanumeric() || matches!(sign, '-' | '_' | '.')
}

fn is_own_name(id: &str) -> bool {
    !id.is_empty()
        && id.len() <= SLUG_BYTES_MAX
        && id.chars().all(|sign| is_safe(sign) && !sign.is_ascii_uppercase())
        && !id.starts_with(['-', '.'])
        && !id.ends_with('.')
        && !is_reserved(id)
        && !has_digest(id)
}

/// Whether an id looks like a name that was made here, and so could be that of another id.
fn has_digest(id: &str) -> bool {
    id.len().checked_sub(DIGEST_CHARACTERS).and_then(|at| id.split_at_checked(at)).is_some_and(
        |(front, digest)| front.ends_with(MARK) && digest.bytes().all(|byte| ALPHABET.contains(&byte)),
    )
}

/// Names that stand for devices on Windows, with any extension ("Naming Files, Paths, and Namespaces" in its
/// documentation, from memory).
fn is_reserved(name: &str) -> bool {
    let stem = name.split('.').next().unwrap_or(name).to_ascii_lowercase();
    match stem.as_str() {
        "con" | "prn" | "aux" | "nul" | "conin$" | "conout$" => true,
        other => other
            .strip_prefix("com")
            .or(other.strip_prefix("lpt"))
            .is_some_and(|number| number.len() == 1 && number.bytes().all(|byte| byte.is_ascii_digit())),
    }
}

/// The small letters and digits of base 32 (RFC 4648), so that case does not matter.
const ALPHABET: &[u8; 32] = b"abcdefghijklmnopqrstuvwxyz234567";

fn digest(id: &str) -> String {
    let sum = Sha256::digest(id.as_bytes());
    (0..DIGEST_CHARACTERS)
        .map(|character| {
            let bits = (0..5).fold(0_usize, |bits, bit| {
                let at = character * 5 + bit;
                bits << 1 | usize::from(sum[at / 8] >> (7 - at % 8) & 1)
            });
            char::from(ALPHABET[bits])
        })
        .collect()
}
