//! The characters a terminal diagram is drawn with: box and block characters, or ASCII alone.
//!
//! Knows nothing of what is drawn.

use crate::diagram::RowKind;

/// How a two-state wave is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct WaveGlyphs {
    /// A level held.
    pub(super) level: char,
    /// An edge from low to high: upper and lower line.
    pub(super) rise: (char, char),
    /// An edge from high to low.
    pub(super) fall: (char, char),
    /// Low, high, low within one column.
    pub(super) pulse_up: (char, char),
    /// High, low, high within one column.
    pub(super) pulse_down: (char, char),
}

/// A whole set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Glyphs {
    /// Waves of devices.
    pub(super) device: WaveGlyphs,
    /// Waves of outputs.
    pub(super) output: WaveGlyphs,
    /// Waves of terminals and variables.
    pub(super) other: WaveGlyphs,
    /// Waves of traces that are expected.
    pub(super) expected: WaveGlyphs,
    /// Three edges or more within one column.
    pub(super) busy: char,
    /// There and back within one column.
    pub(super) spike: char,
    /// A new value begins: upper and lower line of value boxes.
    pub(super) boundary: (char, char),
    /// Several new values within one column.
    pub(super) boundaries: (char, char),
    /// The lower line of value boxes.
    pub(super) baseline: char,
    /// A change whose value has no room.
    pub(super) unwritten: char,
    /// A number that is none, or infinite.
    pub(super) no_number: char,
    /// Heights from lowest to highest.
    pub(super) heights: &'static [char],
    /// Whether heights on two lines make one.
    pub(super) taller: bool,
    /// First, plain and tick character of the axis.
    pub(super) axis: (char, char, char),
    /// A tick carried on between groups.
    pub(super) tick: char,
    /// A time span pointed at: its start, what lies between, its end, and all of it in one column.
    pub(super) span: (char, char, char, char),
    /// A moment pointed at.
    pub(super) moment: char,
    /// Nothing is known.
    pub(super) unknown: char,
    /// Time is folded: the columns of the upper and of the lower line.
    pub(super) fold: [[char; FOLD_COLUMNS]; 2],
    /// Something that happened to the whole controller, through all rows.
    pub(super) through: char,
    /// The end of a cropped text.
    pub(super) cropped: char,
}

/// Columns that stand for a folded stretch of time.
pub(super) const FOLD_COLUMNS: usize = 4;

const LIGHT: WaveGlyphs = WaveGlyphs {
    level: '─',
    rise: ('┌', '┘'),
    fall: ('┐', '└'),
    pulse_up: ('┃', '┸'),
    pulse_down: ('┰', '┃'),
};
const HEAVY: WaveGlyphs = WaveGlyphs {
    level: '━',
    rise: ('┏', '┛'),
    fall: ('┓', '┗'),
    pulse_up: ('┃', '┻'),
    pulse_down: ('┳', '┃'),
};
const DOUBLE: WaveGlyphs = WaveGlyphs {
    level: '═',
    rise: ('╔', '╝'),
    fall: ('╗', '╚'),
    pulse_up: ('┃', '╩'),
    pulse_down: ('╦', '┃'),
};

const DASHED: WaveGlyphs = WaveGlyphs { level: '╌', ..LIGHT };

/// Box and block characters of Unicode.
pub(super) const UNICODE: Glyphs = Glyphs {
    device: HEAVY,
    output: DOUBLE,
    other: LIGHT,
    expected: DASHED,
    busy: '█',
    spike: '┃',
    boundary: ('│', '┴'),
    boundaries: ('║', '╨'),
    baseline: '─',
    unwritten: '·',
    no_number: '×',
    heights: &['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'],
    taller: true,
    axis: ('├', '─', '┼'),
    tick: '┊',
    span: ('├', '─', '┤', '│'),
    moment: '▼',
    unknown: '?',
    fold: [[' ', ' ', '╱', '╱'], ['╱', '╱', ' ', ' ']],
    through: '╎',
    cropped: '…',
};

/// ASCII alone.
pub(super) const ASCII: Glyphs = Glyphs {
    device: WaveGlyphs {
        level: '=',
        rise: ('+', '+'),
        fall: ('+', '+'),
        pulse_up: ('|', '|'),
        pulse_down: ('|', '|'),
    },
    output: WaveGlyphs {
        level: '-',
        rise: ('+', '+'),
        fall: ('+', '+'),
        pulse_up: ('|', '|'),
        pulse_down: ('|', '|'),
    },
    other: WaveGlyphs {
        level: '-',
        rise: ('+', '+'),
        fall: ('+', '+'),
        pulse_up: ('|', '|'),
        pulse_down: ('|', '|'),
    },
    expected: WaveGlyphs {
        level: '.',
        rise: ('+', '+'),
        fall: ('+', '+'),
        pulse_up: ('|', '|'),
        pulse_down: ('|', '|'),
    },
    busy: '#',
    spike: '|',
    boundary: ('/', '+'),
    boundaries: ('%', '%'),
    baseline: '-',
    unwritten: '.',
    no_number: 'x',
    heights: &['0', '1', '2', '3', '4', '5', '6', '7', '8', '9'],
    taller: false,
    axis: ('+', '-', '+'),
    tick: ':',
    span: ('[', '-', ']', '|'),
    moment: 'v',
    unknown: '?',
    fold: [[' ', '}', '{', ' '], [' ', '}', '{', ' ']],
    through: '!',
    cropped: '~',
};

impl Glyphs {
    /// The wave of a sort of rows.
    pub(super) fn wave(&self, kind: RowKind) -> &WaveGlyphs {
        match kind {
            RowKind::Device => &self.device,
            RowKind::Output => &self.output,
            RowKind::Expected => &self.expected,
            RowKind::Actual => &self.device,
            RowKind::Terminal | RowKind::Variable | RowKind::Step => &self.other,
        }
    }

    /// The height character for a share of the full height, 0 to 1; shares outside are brought inside.
    pub(super) fn height(&self, share: f64) -> char {
        let top = self.heights.len().saturating_sub(1);
        // The clamp keeps the product within 0..=top, and a NaN becomes 0.
        let index = (share.clamp(0.0, 1.0) * top as f64).round() as usize;
        self.heights.get(index.min(top)).copied().unwrap_or(self.no_number)
    }
}
