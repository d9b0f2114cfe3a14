//! Figures in words.

/// What an index of discrimination says of an item: the bands of R. L. Ebel and D. A. Frisbie, "Essentials of Educational
/// Measurement" (5th edition 1991), from memory: 0.40 and up very good; 0.30 to 0.39 reasonably good; 0.20 to 0.29 marginal;
/// 0.19 and below poor. They speak of the upper-lower index. An item on which the weaker students do better is told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Band {
    /// Below 0: weak students do better than strong ones.
    Reversed,
    /// 0 to 0.19.
    Poor,
    /// 0.20 to 0.29.
    Marginal,
    /// 0.30 to 0.39.
    ReasonablyGood,
    /// 0.40 and up.
    VeryGood,
}

impl Band {
    /// Of an index, to two places, as it is shown: figure and word always agree.
    pub fn of(index: f64) -> Band {
        match hundredths(index) {
            40.. => Band::VeryGood,
            30.. => Band::ReasonablyGood,
            20.. => Band::Marginal,
            0.. => Band::Poor,
            _ => Band::Reversed,
        }
    }

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Band::VeryGood => "very good",
            Band::ReasonablyGood => "reasonably good",
            Band::Marginal => "marginal",
            Band::Poor => "poor",
            Band::Reversed => "reversed",
        }
    }
}

/// What alpha says of an exercise. That 0.70 is the least to be asked for is a rule of thumb, mostly traced to J. C. Nunnally,
/// "Psychometric Theory" (2nd edition 1978), from memory; the other steps are our own choice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Agreement {
    /// Below 0.
    Contrary,
    /// 0 to 0.49.
    Low,
    /// 0.50 to 0.69.
    Weak,
    /// 0.70 to 0.79.
    Fair,
    /// 0.80 and up.
    High,
}

impl Agreement {
    /// Of alpha, to two places, as it is shown.
    pub fn of(alpha: f64) -> Agreement {
        match hundredths(alpha) {
            80.. => Agreement::High,
            70.. => Agreement::Fair,
            50.. => Agreement::Weak,
            0.. => Agreement::Low,
            _ => Agreement::Contrary,
        }
    }

    /// As a sentence.
    pub const fn words(self) -> &'static str {
        match self {
            Agreement::High => {
                "The parts agree well: they measure one ability, and the totals rank students reliably."
            }
            Agreement::Fair => "The parts agree well enough for the marks of a class.",
            Agreement::Weak => {
                "The parts agree only in part: differences of a few points between students say little."
            }
            Agreement::Low => {
                "The parts hardly agree: either they ask for different abilities, or there are too few of them. The \
                 total ranks students poorly; look at the parts one by one."
            }
            Agreement::Contrary => {
                "The parts work against one another: who does well on one does badly on others. Look for a part that \
                 demands what the task does not say."
            }
        }
    }
}

/// A figure to two places, as it is shown: the same rounding from which its words come.
pub fn two_places(figure: f64) -> String {
    let hundredths = hundredths(figure);
    let sign = if hundredths < 0 { "−" } else { "" };
    format!("{sign}{}.{:02}", hundredths.unsigned_abs() / 100, hundredths.unsigned_abs() % 100)
}

/// To the nearest hundredth, as a whole number.
fn hundredths(figure: f64) -> i64 {
    // Figures are at most 1 and, for alpha, may be far below 0: the conversion saturates.
    (figure * 100.0).round() as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_and_words_agree_as_they_are_shown() {
        let cases = [
            (1.0, Band::VeryGood),
            (0.40, Band::VeryGood),
            (0.396, Band::VeryGood),
            (0.39, Band::ReasonablyGood),
            (0.30, Band::ReasonablyGood),
            (0.294, Band::Marginal),
            (0.20, Band::Marginal),
            (0.19, Band::Poor),
            (0.0, Band::Poor),
            (-0.001, Band::Poor),
            (-0.01, Band::Reversed),
        ];
        for (index, band) in cases {
            assert_eq!(Band::of(index), band, "{index}");
        }
        let shown = [0.295, 0.294_999, -0.004, -0.005, -1.0, 1.0].map(two_places);
        assert_eq!(shown, ["0.30", "0.29", "0.00", "−0.01", "−1.00", "1.00"]);
        let alphas = [0.8, 0.7, 0.69, 0.49, -0.1, f64::MIN].map(Agreement::of);
        assert_eq!(
            alphas,
            [
                Agreement::High,
                Agreement::Fair,
                Agreement::Weak,
                Agreement::Low,
                Agreement::Contrary,
                Agreement::Contrary
            ]
        );
    }
}
