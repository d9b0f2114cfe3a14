//! What is handed on of a submission that was read.

use super::{
    Gravity, LeftOut, Outcome, Problem, Student, Submission, SubmittedFile, digest,
    encoding::{Decoded, Encoding},
    gather::Taken,
    limits::TOLD_MAX,
    listing::Listing,
};

/// Puts together what is handed on, and says what its owner has to know of it.
pub(super) fn of(student: Student, outcome: Outcome, taken: Vec<Taken>, listing: Listing) -> Submission {
    let Listing { mut left_out, mut problems, known, .. } = listing;
    problems.extend(known);
    match outcome {
        Outcome::NothingHandedIn => problems.push(Problem {
            name: "nothing-handed-in",
            severity: Gravity::Error,
            message: "nothing was handed in".to_string(),
            file: None,
        }),
        Outcome::NoProgram | Outcome::Unreadable => problems.push(Problem {
            name: "no-program-file",
            severity: Gravity::Error,
            message: "no program was found in what was handed in; hand in text files that end in .st or .il"
                .to_string(),
            file: None,
        }),
        Outcome::Read | Outcome::OverBudget => {}
    }
    for Taken { name, decoded, .. } in &taken {
        problems.extend(encoding_problem(name, decoded));
    }
    for pair in similar_names(&taken) {
        problems.push(pair);
    }
    bound(&mut left_out, &mut problems);
    let digest = digest::of(
        outcome,
        taken.iter().map(|taken| (taken.name.as_str(), taken.raw.as_slice())),
        &left_out,
        &problems,
    );
    let keeps_text = outcome == Outcome::Read;
    let files = taken
        .into_iter()
        .map(|Taken { name, raw, decoded, .. }| SubmittedFile {
            name,
            text: if keeps_text { decoded.text } else { String::new() },
            encoding: decoded.encoding,
            bytes: raw.len() as u64,
        })
        .collect();
    Submission { student, outcome, files, left_out, problems, digest }
}

/// Puts what is told in order, and the number of the rest in the place of what would be too much to read.
pub(super) fn bound(left_out: &mut Vec<LeftOut>, problems: &mut Vec<Problem>) {
    left_out.sort();
    let more = left_out.len().saturating_sub(TOLD_MAX);
    if more > 0 {
        left_out.truncate(TOLD_MAX);
        left_out.push(LeftOut { name: format!("{more} more"), why: "not told one by one".to_string() });
    }
    problems.sort_by(Problem::order);
    let more = problems.len().saturating_sub(TOLD_MAX);
    if more > 0 {
        problems.truncate(TOLD_MAX);
        problems.push(Problem {
            name: "more-problems",
            severity: Gravity::Warning,
            message: format!("{more} more problems were found in what was handed in"),
            file: None,
        });
    }
}

fn encoding_problem(name: &str, decoded: &Decoded) -> Option<Problem> {
    let note = |severity, message| {
        Some(Problem { name: "encoding", severity, message, file: Some(name.to_string()) })
    };
    match (decoded.encoding, decoded.replaced) {
        (Encoding::Utf8, false) => None,
        (encoding, true) => note(
            Gravity::Warning,
            format!(
                "`{name}` was read as {}, but some of its bytes are no characters in it; save it as UTF-8",
                encoding.name()
            ),
        ),
        (Encoding::Utf16, false) => {
            note(Gravity::Note, format!("`{name}` is not in UTF-8; it was read as UTF-16; save it as UTF-8"))
        }
        (Encoding::Latin1, false) => note(
            Gravity::Note,
            format!("`{name}` is not in UTF-8; it was read as Latin-1 (windows-1252); save it as UTF-8"),
        ),
    }
}

/// Names that are one and the same on many systems. Both files are read.
fn similar_names(taken: &[Taken]) -> Vec<Problem> {
    let mut folded: Vec<(String, &str)> =
        taken.iter().map(|taken| (taken.name.to_lowercase(), taken.name.as_str())).collect();
    folded.sort_unstable();
    let pairs = folded.windows(2).filter(|pair| pair[0].0 == pair[1].0);
    pairs
        .map(|pair| Problem {
            name: "similar-names",
            severity: Gravity::Note,
            message: format!("`{}` and `{}` differ in case alone; both were read", pair[0].1, pair[1].1),
            file: Some(pair[1].1.to_string()),
        })
        .collect()
}
