//! Classes made for tests.

use latchwork_bench::{
    class::{Class, ClassResults},
    marking::{
        Divergence, Finding, FindingKind, Gravity, Item, ItemKind, ItemResult, ItemVerdict, Marked,
        MarkedFile, MarkingScheme, Points, State, Student,
    },
};

/// A scheme with items worth so many hundredths, named `item 1` and so on.
pub fn scheme(worths: &[i64]) -> MarkingScheme {
    let items = worths.iter().zip(1..).map(|(worth, number)| Item {
        title: format!("item {number}"),
        file: "all.steps".to_owned(),
        points: Points::of_hundredths(*worth),
        shown: number % 2 == 1,
        kind: ItemKind::Procedure,
        hint: None,
    });
    MarkingScheme {
        title: "Rain barrel".to_owned(),
        items: items.collect(),
        out_of: Points::of_hundredths(worths.iter().sum()),
    }
}

/// A student whose program ran and earned so many hundredths with each item.
pub fn ran(id: &str, scheme: &MarkingScheme, earned: &[i64]) -> Marked {
    let result = |(item, earned): (&Item, &i64)| {
        let points = Points::of_hundredths(*earned);
        let verdict = match *earned {
            0 => ItemVerdict::Failed,
            _ if points == item.points => ItemVerdict::Passed,
            _ => ItemVerdict::Partly,
        };
        ItemResult { verdict, points, met: None, failure: None }
    };
    Marked {
        student: Student { id: id.to_owned(), name: None },
        files: vec![MarkedFile {
            name: "main.st".to_owned(),
            bytes: 400,
            lines: 20,
            encoding: Some("UTF-8".to_owned()),
        }],
        state: State::Ran,
        findings: Vec::new(),
        items: scheme.items.iter().zip(earned).map(result).collect(),
        deducted: Points::ZERO,
        total: earned.iter().map(|earned| Points::of_hundredths(*earned)).sum(),
        scans: 1_000,
    }
}

/// A student with nothing on any item.
pub fn in_state(id: &str, scheme: &MarkingScheme, state: State) -> Marked {
    let mut marked = ran(id, scheme, &vec![0; scheme.items.len()]);
    marked.items = vec![ItemResult::NOT_RUN; scheme.items.len()];
    marked.state = state;
    marked.scans = 0;
    marked
}

/// A class of students who earned so many hundredths with each item.
pub fn class(worths: &[i64], students: &[Vec<i64>]) -> ClassResults {
    let scheme = scheme(worths);
    let marked: Vec<Marked> = students
        .iter()
        .enumerate()
        .map(|(number, earned)| ran(&format!("student {number}"), &scheme, earned))
        .collect();
    finished(&scheme, &marked)
}

/// A class of these records.
pub fn finished(scheme: &MarkingScheme, marked: &[Marked]) -> ClassResults {
    let mut class = Class::new(scheme);
    for marked in marked {
        class.add(marked).unwrap();
    }
    class.finish()
}

/// A finding.
pub fn finding(kind: FindingKind, name: &str, severity: Gravity, message: &str) -> Finding {
    Finding {
        kind,
        name: name.to_owned(),
        severity,
        message: message.to_owned(),
        file: Some("main.st".to_owned()),
        line: Some(7),
        column: Some(3),
        shown: format!("{message}\n  7 | Pump := Level"),
    }
}

/// A first moment of divergence.
pub fn divergence(line: u32, name: &str, time_ns: i64) -> Divergence {
    Divergence {
        name: name.to_owned(),
        message: format!("`Pump` was not as expected in line {line}"),
        line: Some(line),
        time_ns,
        scan: u64::try_from(time_ns / 10_000_000).ok(),
    }
}
