//! Native functions: operations of the standard library that are written in Rust.
//!
//! A native function sees its frame (or the instance of a standard function block) through bounds-checked typed
//! access, strings through their addresses, and the time of the scan. It has no other state: what it must remember
//! lies in its frame, which is a part of the data image.

use crate::event::EventKind;
use crate::place::NULL_ADDRESS;
use crate::text_operation::TextOperation;
use crate::value::Value;

/// A native function that images can import by name.
#[derive(Clone, Copy, Debug)]
pub struct NativeFunction {
    /// Name that images import it by.
    pub name: &'static str,
    /// Size of its frame in bytes.
    pub frame_bytes: u32,
    /// The function itself.
    pub run: fn(&mut NativeCall<'_>),
    /// What it does, where the machine can do that by itself.
    pub operation: Option<TextOperation>,
}

impl NativeFunction {
    /// A function by its name, the size of its frame in bytes, and what it runs.
    #[must_use]
    pub const fn new(name: &'static str, frame_bytes: u32, run: fn(&mut NativeCall<'_>)) -> Self {
        Self { name, frame_bytes, run, operation: None }
    }

    /// The same function, which does an operation that the machine can do by itself.
    #[must_use]
    pub const fn operating(self, operation: TextOperation) -> Self {
        Self { operation: Some(operation), ..self }
    }

    /// Its operation, if the frame has room for all that this reads and writes.
    pub(crate) const fn operation_on_frame(&self) -> Option<TextOperation> {
        match self.operation {
            // Operands and result take at most 8 bytes each.
            Some(operation) if operation.result() + 8 <= self.frame_bytes => Some(operation),
            _ => None,
        }
    }
}

/// Receives the events of a native function with named values.
pub(crate) trait EventSink {
    fn event(&mut self, kind: EventKind, values: &[(&'static str, Value)]);
}

/// The view that a running native function has.
///
/// Offsets are bytes from the start of the frame. An access that is not wholly inside the frame (or, for the methods
/// that take an address, inside the data image) reads 0, writes nothing, and stops the run with an `address` fault
/// after the function returns.
pub struct NativeCall<'a> {
    data: &'a mut [u8],
    base: usize,
    end: usize,
    now_ns: i64,
    events: &'a mut dyn EventSink,
    charged: u64,
    outside: bool,
    null: bool,
}

macro_rules! typed_access {
    ($($get:ident $set:ident $kind:ident;)*) => {
        $(
            #[doc = concat!("The `", stringify!($kind), "` at an offset.")]
            #[must_use]
            #[inline]
            pub fn $get(&mut self, offset: u32) -> $kind {
                self.get(offset).map_or($kind::default(), $kind::from_le_bytes)
            }

            #[doc = concat!("Stores a `", stringify!($kind), "` at an offset.")]
            #[inline]
            pub fn $set(&mut self, offset: u32, value: $kind) {
                self.set(offset, value.to_le_bytes());
            }
        )*
    };
}

impl<'a> NativeCall<'a> {
    pub(crate) fn new(
        data: &'a mut [u8],
        base: u32,
        frame_bytes: u32,
        now_ns: i64,
        events: &'a mut dyn EventSink,
    ) -> Self {
        let base = base as usize;
        let end = (base + frame_bytes as usize).min(data.len());
        Self { data, base, end, now_ns, events, charged: 0, outside: false, null: false }
    }

    /// Simulated time of the scan in nanoseconds; the same for all calls in the scan.
    #[must_use]
    pub const fn now(&self) -> i64 {
        self.now_ns
    }

    /// Records an event at the calling instruction.
    pub fn event(&mut self, kind: EventKind) {
        self.events.event(kind, &[]);
    }

    /// Records an event with values.
    pub fn event_with(&mut self, kind: EventKind, values: &[(&'static str, Value)]) {
        self.events.event(kind, values);
    }

    /// Counts more instructions for work that grows with the data; the budget of the scan covers it.
    pub fn charge(&mut self, instructions: u64) {
        self.charged = self.charged.saturating_add(instructions);
    }

    /// The BOOL at an offset: any bit set means TRUE.
    #[must_use]
    pub fn bool(&mut self, offset: u32) -> bool {
        self.u8(offset) != 0
    }

    /// Stores a BOOL at an offset.
    pub fn set_bool(&mut self, offset: u32, value: bool) {
        self.set_u8(offset, u8::from(value));
    }

    typed_access! {
        i8 set_i8 i8;
        i16 set_i16 i16;
        i32 set_i32 i32;
        i64 set_i64 i64;
        u8 set_u8 u8;
        u16 set_u16 u16;
        u32 set_u32 u32;
        u64 set_u64 u64;
        f32 set_f32 f32;
        f64 set_f64 f64;
    }

    /// Absolute address of an offset in the frame.
    #[must_use]
    pub fn address_of(&self, offset: u32) -> u32 {
        u32::try_from(self.base).unwrap_or(u32::MAX).saturating_add(offset)
    }

    /// So many bytes at an absolute address; empty when they are not wholly in the data image.
    #[must_use]
    pub fn bytes_at(&mut self, address: u32, count: u32) -> &[u8] {
        match self.span(address, count as usize) {
            Some((start, end)) => self.data.get(start..end).unwrap_or_default(),
            None => &[],
        }
    }

    /// So many bytes at an absolute address, to be changed; empty when they are not wholly in the data image.
    pub fn bytes_at_mut(&mut self, address: u32, count: u32) -> &mut [u8] {
        match self.span(address, count as usize) {
            Some((start, end)) => self.data.get_mut(start..end).unwrap_or_default(),
            None => &mut [],
        }
    }

    /// The characters of the STRING whose capacity word is at an absolute address.
    #[must_use]
    pub fn string_at(&mut self, address: u32) -> &[u8] {
        match self.string_span(address, 1) {
            Some((_, length, start)) => self.data.get(start..start + length).unwrap_or_default(),
            None => &[],
        }
    }

    /// The characters of the STRING at an offset of the frame.
    #[must_use]
    pub fn string(&mut self, offset: u32) -> &[u8] {
        self.string_at(self.address_of(offset))
    }

    /// The units of the WSTRING whose capacity word is at an absolute address.
    #[must_use]
    pub fn wide_string_at(&mut self, address: u32) -> Vec<u16> {
        match self.string_span(address, 2) {
            Some((_, length, start)) => self
                .data
                .get(start..start + 2 * length)
                .unwrap_or_default()
                .chunks_exact(2)
                .map(|pair| {
                    u16::from_le_bytes([
                        pair.first().copied().unwrap_or(0),
                        pair.last().copied().unwrap_or(0),
                    ])
                })
                .collect(),
            None => Vec::new(),
        }
    }

    /// The units of the WSTRING at an offset of the frame.
    #[must_use]
    pub fn wide_string(&mut self, offset: u32) -> Vec<u16> {
        self.wide_string_at(self.address_of(offset))
    }

    /// Stores text into the STRING at an absolute address; what exceeds its capacity is cut, with an event.
    pub fn set_string_at(&mut self, address: u32, text: &[u8]) {
        let Some((capacity, _, start)) = self.string_span(address, 1) else { return };
        let kept = text.get(..capacity).unwrap_or(text);
        if let Some(target) = self.data.get_mut(start..start + kept.len()) {
            target.copy_from_slice(kept);
        }
        self.set_length(address, kept.len(), text.len());
    }

    /// Stores text into the STRING at an offset of the frame.
    pub fn set_string(&mut self, offset: u32, text: &[u8]) {
        self.set_string_at(self.address_of(offset), text);
    }

    /// Stores text into the WSTRING at an absolute address; what exceeds its capacity is cut, with an event.
    pub fn set_wide_string_at(&mut self, address: u32, text: &[u16]) {
        let Some((capacity, _, start)) = self.string_span(address, 2) else { return };
        let kept = text.get(..capacity).unwrap_or(text);
        if let Some(target) = self.data.get_mut(start..start + 2 * kept.len()) {
            for (bytes, unit) in target.chunks_exact_mut(2).zip(kept) {
                bytes.copy_from_slice(&unit.to_le_bytes());
            }
        }
        self.set_length(address, kept.len(), text.len());
    }

    /// Stores text into the WSTRING at an offset of the frame.
    pub fn set_wide_string(&mut self, offset: u32, text: &[u16]) {
        self.set_wide_string_at(self.address_of(offset), text);
    }

    /// Number of characters of the string whose capacity word is at an absolute address; of both widths.
    #[must_use]
    pub fn length_at(&mut self, address: u32) -> usize {
        self.string_span(address, 1).map_or(0, |(_, length, _)| length)
    }

    /// Appends characters of one string to another of the same width, both given by the absolute addresses of
    /// their capacity words; `width` is the size of a character in bytes. Positions count from 0, and those
    /// behind the end of the source are left out. Returns how many characters found no room; there is no event.
    pub fn append_at(
        &mut self,
        target: u32,
        source: u32,
        width: usize,
        characters: std::ops::Range<usize>,
    ) -> usize {
        let Some((_, available, from)) = self.string_span(source, width) else { return 0 };
        let Some((capacity, length, to)) = self.string_span(target, width) else { return 0 };
        let end = characters.end.min(available);
        let start = characters.start.min(end);
        let wanted = end - start;
        let kept = wanted.min(capacity - length);
        // Both spans were checked with their whole capacities.
        let source = from + width * start..from + width * (start + kept);
        let place = to + width * length;
        if source.end <= self.data.len() && place + source.len() <= self.data.len() {
            self.data.copy_within(source, place);
        }
        self.put_length(target, length + kept);
        self.charge((kept / 64) as u64);
        wanted - kept
    }

    /// Greatest number of characters of the string whose capacity word is at an absolute address.
    #[must_use]
    pub fn capacity_at(&mut self, address: u32) -> usize {
        self.string_span(address, 1).map_or(0, |(capacity, _, _)| capacity)
    }

    /// What the function charged, and whether it reached outside its frame or through NULL.
    pub(crate) const fn outcome(&self) -> NativeOutcome {
        NativeOutcome { charged: self.charged, outside: self.outside, null: self.null }
    }

    fn put_length(&mut self, address: u32, length: usize) {
        // A string keeps at most its capacity, a 16-bit number.
        let length = u16::try_from(length).unwrap_or(u16::MAX);
        let start = address as usize + 2;
        if let Some(target) = self.data.get_mut(start..start + 2) {
            target.copy_from_slice(&length.to_le_bytes());
        }
    }

    fn set_length(&mut self, address: u32, kept: usize, wanted: usize) {
        self.put_length(address, kept);
        self.charge((kept / 64) as u64);
        if kept < wanted {
            self.event(EventKind::StringCut);
        }
    }

    /// Capacity, length and start of the characters of a string, all of it inside the data image.
    fn string_span(&mut self, address: u32, width: usize) -> Option<(usize, usize, usize)> {
        let (start, _) = self.span(address, 4)?;
        let head = self.data.get(start..start + 4).and_then(|head| <[u8; 4]>::try_from(head).ok())?;
        let capacity = usize::from(u16::from_le_bytes([head[0], head[1]]));
        let length = usize::from(u16::from_le_bytes([head[2], head[3]]));
        self.span(address, 4 + width * capacity)?;
        self.charge((length.min(capacity) / 64) as u64);
        Some((capacity, length.min(capacity), start + 4))
    }

    fn span(&mut self, address: u32, count: usize) -> Option<(usize, usize)> {
        let start = address as usize;
        let end = start.saturating_add(count);
        if address == NULL_ADDRESS {
            self.null = true;
            None
        } else if end > self.data.len() {
            self.outside = true;
            None
        } else {
            Some((start, end))
        }
    }

    fn get<const N: usize>(&mut self, offset: u32) -> Option<[u8; N]> {
        let start = self.base.saturating_add(offset as usize);
        let end = start.saturating_add(N);
        let bytes = if end <= self.end { self.data.get(start..end) } else { None };
        let bytes = bytes.and_then(|bytes| <[u8; N]>::try_from(bytes).ok());
        self.outside |= bytes.is_none();
        bytes
    }

    fn set<const N: usize>(&mut self, offset: u32, value: [u8; N]) {
        let start = self.base.saturating_add(offset as usize);
        let end = start.saturating_add(N);
        let target = if end <= self.end { self.data.get_mut(start..end) } else { None };
        match target {
            Some(target) => target.copy_from_slice(&value),
            None => self.outside = true,
        }
    }
}

/// How a native call ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct NativeOutcome {
    pub(crate) charged: u64,
    pub(crate) outside: bool,
    pub(crate) null: bool,
}
