//! The text of paths: names, indices, direct addresses (IEC 61131-3:2013 Table 16).

use super::ResolveError;
use crate::image::AreaKind;

/// One step of a path.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Segment {
    /// A name.
    Name(String),
    /// The indices in one pair of brackets.
    Index(Vec<i64>),
}

/// The steps of a path.
pub(super) type Path = Vec<Segment>;

/// Longest path in bytes; longer ones name nothing.
const PATH_BYTES: usize = 8192;

/// Takes a path apart.
pub(super) fn parse(text: &str) -> Result<Path, ResolveError> {
    let wrong = |problem: &str| ResolveError::Syntax {
        path: text.chars().take(80).collect(),
        problem: problem.to_owned(),
    };
    if text.is_empty() {
        return Err(wrong("it is empty"));
    }
    if text.len() > PATH_BYTES {
        return Err(wrong("it is too long"));
    }
    let mut segments = Vec::new();
    let mut rest = text;
    loop {
        let end = rest.find(['.', '[']).unwrap_or(rest.len());
        let (name, tail) = rest.split_at(end);
        let name = name.trim();
        let valid = name.chars().all(|character| character.is_ascii_alphanumeric() || character == '_');
        if name.is_empty() || !valid {
            return Err(wrong("a name is missing or has other characters than letters, digits and `_`"));
        }
        segments.push(Segment::Name(name.to_owned()));
        rest = tail;
        while let Some(inside) = rest.strip_prefix('[') {
            let Some((indices, tail)) = inside.split_once(']') else {
                return Err(wrong("`]` is missing"));
            };
            let indices: Option<Vec<i64>> =
                indices.split(',').map(|index| index.trim().parse().ok()).collect();
            segments.push(Segment::Index(indices.ok_or_else(|| wrong("an index is not an integer"))?));
            rest = tail.trim_start();
        }
        match rest.strip_prefix('.') {
            Some(tail) => rest = tail,
            None if rest.is_empty() => return Ok(segments),
            None => return Err(wrong("after `]` only `.` or `[` may follow")),
        }
    }
}

/// A direct address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct DirectAddress {
    /// In capitals, the size letter written out.
    pub(super) text: String,
    pub(super) area: AreaKind,
    /// Where it lies in its area; `None` with more levels than an area has.
    pub(super) place: Option<DirectPlace>,
}

/// Where a direct address lies in its area.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct DirectPlace {
    pub(super) byte: u32,
    pub(super) size: u32,
    pub(super) bit: Option<u8>,
}

/// Reads a direct address. The number counts units of the size letter; `%IX3.5` and `%IX29` are bit 5 of byte 3.
pub(super) fn direct_address(text: &str) -> Option<DirectAddress> {
    let capitals = text.to_ascii_uppercase();
    let mut characters = capitals.strip_prefix('%')?.chars();
    let area = match characters.next()? {
        'I' => AreaKind::Input,
        'Q' => AreaKind::Output,
        'M' => AreaKind::Memory,
        _ => return None,
    };
    let rest = characters.as_str();
    let (letter, numbers) = match rest.chars().next()? {
        letter @ ('X' | 'B' | 'W' | 'D' | 'L') => (letter, rest.get(1..)?),
        _ => ('X', rest),
    };
    let numbers: Option<Vec<u32>> = numbers.split('.').map(|number| number.parse().ok()).collect();
    let numbers = numbers?;
    let size = match letter {
        'W' => 2,
        'D' => 4,
        'L' => 8,
        _ => 1,
    };
    let place = match (letter, numbers.as_slice()) {
        ('X', [byte, bit @ 0..=7]) => Some(DirectPlace { byte: *byte, size, bit: Some(*bit as u8) }),
        ('X', [bit]) => Some(DirectPlace { byte: bit / 8, size, bit: Some((bit % 8) as u8) }),
        ('X', _) => None,
        (_, [number]) => number.checked_mul(size).map(|byte| DirectPlace { byte, size, bit: None }),
        _ => None,
    };
    let letters = capitals.get(1..2)?;
    let numbers: Vec<String> = numbers.iter().map(u32::to_string).collect();
    Some(DirectAddress { text: format!("%{letters}{letter}{}", numbers.join(".")), area, place })
}
