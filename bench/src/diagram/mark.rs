//! Marks on the time axis: what somebody wants to point at in a diagram, such as the time that was allowed.
//!
//! Knows times; knows nothing of rows or of any output form.

/// One line of marks.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Mark {
    /// The word beside it: "allowed".
    pub name: String,
    /// Stretches of time in nanoseconds, both ends included, in rising order and apart from one another.
    pub spans: Vec<(i64, i64)>,
    /// Moments in nanoseconds, in rising order.
    pub moments: Vec<i64>,
    /// What is said of it: "until 2.02 s". It may be left out where there is no room.
    pub text: String,
    /// Whether its moments are drawn through all rows: something that happened to the whole controller or its wiring.
    pub through: bool,
}

impl Mark {
    /// A mark of nothing so far.
    pub(super) fn named(name: impl Into<String>, text: impl Into<String>) -> Self {
        Mark { name: name.into(), text: text.into(), ..Mark::default() }
    }

    /// A mark of one moment.
    pub fn moment(name: impl Into<String>, time_ns: i64, text: impl Into<String>) -> Self {
        Mark { moments: vec![time_ns], ..Mark::named(name, text) }
    }

    /// A mark of one stretch of time; one that ends before it starts is its start alone.
    pub fn span(name: impl Into<String>, from_ns: i64, until_ns: i64, text: impl Into<String>) -> Self {
        let spans = vec![(from_ns, until_ns.max(from_ns))];
        Mark { spans, ..Mark::named(name, text) }
    }
}
