//! The one table of instruction families.
//!
//! A row gives: family, mnemonic, the scalars it exists for, operand kinds, cost, what it may raise, handler,
//! description. The family enumeration, its metadata, encoder, decoder, verifier, listing, reference and both
//! dispatchers come from these rows; an instruction is added by one row here and one handler in `run::handlers`.
//!
//! A family that exists for exactly one scalar has no type suffix in listings, and the builder ignores the scalar
//! that it is given for it.

/// Calls `$callback!` with all rows of the table.
macro_rules! for_each_instruction {
    ($callback:ident) => {
        $callback! {
            // Moves. Floats move as plain bits of their width.
            Move "move" [U8 U16 U32 U64] [Dest Source] 1 [] Move "copies the source value";
            Copy "copy" [U8] [Region Region Bytes] 1 [] CopyRegion "copies a block of bytes; source and destination may overlap";
            Address "address" [U32] [Dest32 Region] 1 [] AddressOf "stores the absolute address of a place";
            OffsetAddress "offset-address" [U32] [Dest32 Address Immediate] 1 [NullReference] OffsetAddress "adds a constant to an address";
            Load "load" [U8 U16 U32 U64] [Dest Address Immediate] 1 [NullReference Address] Load "loads the value at an address plus an offset";
            Store "store" [U8 U16 U32 U64] [Address Immediate Source] 1 [NullReference Address] Store "stores a value at an address plus an offset";
            CopyFrom "copy-from" [U8] [Region Address Bytes] 1 [NullReference Address] CopyFrom "copies a block from an address to a place";
            CopyTo "copy-to" [U8] [Address Region Bytes] 1 [NullReference Address] CopyTo "copies a block from a place to an address";
            CopyBetween "copy-between" [U8] [Address Address Bytes] 1 [NullReference Address] CopyBetween "copies a block to the first address from the second";
            Index "index" [I8 I16 I32 I64 U8 U16 U32 U64] [Dest32 Region Source Range] 1 [Subscript] Index "address of an element: place + (index - lower bound) * stride";
            IndexAddress "index-address" [I8 I16 I32 I64 U8 U16 U32 U64] [Dest32 Address Source Range] 1 [Subscript NullReference] IndexAddress "address of an element of an array that is itself given by its address";
            IndexCharacter "index-character" [I8 I16 I32 I64 U8 U16 U32 U64] [Dest32 Address Source] 1 [Subscript NullReference Address] IndexCharacter "address of a character of a STRING, counted from 1 to its length";
            IndexWideCharacter "index-wide-character" [I8 I16 I32 I64 U8 U16 U32 U64] [Dest32 Address Source] 1 [Subscript NullReference Address] IndexWideCharacter "address of a character of a WSTRING, counted from 1 to its length";
            IndexOpen "index-open" [I8 I16 I32 I64 U8 U16 U32 U64] [Dest32 Source32 Source Source64] 1 [Subscript] IndexOpen "one dimension of an array whose bounds are data (upper in the low half, lower in the high half): position * length + (index - lower)";

            // Arithmetic. Integers wrap with an event; floats follow IEC 60559 with an event where a finite operand leads out of range.
            Add "add" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest Source Source] 1 [Overflow] Add "sum";
            Subtract "subtract" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest Source Source] 1 [Overflow] Subtract "difference";
            Multiply "multiply" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest Source Source] 1 [Overflow] Multiply "product";
            Divide "divide" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest Source Source] 1 [DivisionByZero Overflow] Divide "quotient; integers truncate towards zero";
            Modulo "modulo" [I8 I16 I32 I64 U8 U16 U32 U64] [Dest Source Source] 1 [ModuloByZero] Modulo "remainder with the sign of the first operand; 0 where the second is 0";
            Negate "negate" [I8 I16 I32 I64 F32 F64] [Dest Source] 1 [Overflow] Negate "negated value";
            Absolute "absolute" [I8 I16 I32 I64 F32 F64] [Dest Source] 1 [Overflow] Absolute "absolute value";

            // Bits and Booleans.
            And "and" [U8 U16 U32 U64] [Dest Source Source] 1 [] And "AND bit by bit";
            Or "or" [U8 U16 U32 U64] [Dest Source Source] 1 [] Or "OR bit by bit";
            Xor "xor" [U8 U16 U32 U64] [Dest Source Source] 1 [] Xor "exclusive OR bit by bit";
            Complement "complement" [U8 U16 U32 U64] [Dest Source] 1 [] Complement "NOT bit by bit";
            Not "not" [U8] [Dest8 Source8] 1 [] Not "NOT of a BOOL";
            AndNot "and-not" [U8] [Dest8 Source8 Source8] 1 [] AndNot "first BOOL AND NOT second BOOL";
            OrNot "or-not" [U8] [Dest8 Source8 Source8] 1 [] OrNot "first BOOL OR NOT second BOOL";
            BoolAnd "bool-and" [U8] [Dest8 Source8 Source8] 1 [] BoolAnd "AND of two BOOL";
            BoolOr "bool-or" [U8] [Dest8 Source8 Source8] 1 [] BoolOr "OR of two BOOL";
            BoolXor "bool-xor" [U8] [Dest8 Source8 Source8] 1 [] BoolXor "exclusive OR of two BOOL";
            BoolEqual "bool-equal" [U8] [Dest8 Source8 Source8] 1 [] BoolEqual "BOOL: two BOOL are equal";
            ShiftLeft "shift-left" [U8 U16 U32 U64] [Dest Source Source64] 1 [Domain] ShiftLeft "zero-filled shift; from the width on 0, a negative count changes nothing";
            ShiftRight "shift-right" [U8 U16 U32 U64] [Dest Source Source64] 1 [Domain] ShiftRight "zero-filled shift; from the width on 0, a negative count changes nothing";
            RotateLeft "rotate-left" [U8 U16 U32 U64] [Dest Source Source64] 1 [Domain] RotateLeft "rotation by count MOD width; a negative count changes nothing";
            RotateRight "rotate-right" [U8 U16 U32 U64] [Dest Source Source64] 1 [Domain] RotateRight "rotation by count MOD width; a negative count changes nothing";

            // Comparison and selection.
            Equal "equal" [U8 U16 U32 U64 F32 F64] [Dest8 Source Source] 1 [] Equal "BOOL: operands are equal";
            NotEqual "not-equal" [U8 U16 U32 U64 F32 F64] [Dest8 Source Source] 1 [] NotEqual "BOOL: operands differ";
            Less "less" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest8 Source Source] 1 [] Less "BOOL: first below second";
            LessOrEqual "less-or-equal" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest8 Source Source] 1 [] LessOrEqual "BOOL: first at most second";
            Select "select" [U8 U16 U32 U64] [Dest Source8 Source Source] 1 [] Select "second operand where the BOOL is FALSE, third where TRUE";
            Minimum "minimum" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest Source Source] 1 [] Minimum "smaller operand; of a number and NaN the number";
            Maximum "maximum" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest Source Source] 1 [] Maximum "larger operand; of a number and NaN the number";
            CheckRange "check-range" [I8 I16 I32 I64 U8 U16 U32 U64] [Source Source Source] 1 [Subrange] CheckRange "fault unless lower bound <= value <= upper bound";

            // Conversions to the named scalar from the scalar of the suffix.
            ToI8 "to-i8" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest8 Source] 1 [Conversion] ToI8 "conversion; integers keep the low bits, floats round to even and saturate";
            ToI16 "to-i16" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest16 Source] 1 [Conversion] ToI16 "conversion; integers keep the low bits, floats round to even and saturate";
            ToI32 "to-i32" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest32 Source] 1 [Conversion] ToI32 "conversion; integers keep the low bits, floats round to even and saturate";
            ToI64 "to-i64" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest64 Source] 1 [Conversion] ToI64 "conversion; integers keep the low bits, floats round to even and saturate";
            ToU8 "to-u8" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest8 Source] 1 [Conversion] ToU8 "conversion; integers keep the low bits, floats round to even and saturate";
            ToU16 "to-u16" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest16 Source] 1 [Conversion] ToU16 "conversion; integers keep the low bits, floats round to even and saturate";
            ToU32 "to-u32" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest32 Source] 1 [Conversion] ToU32 "conversion; integers keep the low bits, floats round to even and saturate";
            ToU64 "to-u64" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest64 Source] 1 [Conversion] ToU64 "conversion; integers keep the low bits, floats round to even and saturate";
            ToF32 "to-f32" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest32 Source] 1 [Conversion] ToF32 "conversion, rounded to nearest even";
            ToF64 "to-f64" [I8 I16 I32 I64 U8 U16 U32 U64 F32 F64] [Dest64 Source] 1 [] ToF64 "conversion, rounded to nearest even";
            TruncateI8 "truncate-i8" [F32 F64] [Dest8 Source] 1 [Conversion] TruncateI8 "conversion towards zero; saturates, NaN gives 0";
            TruncateI16 "truncate-i16" [F32 F64] [Dest16 Source] 1 [Conversion] TruncateI16 "conversion towards zero; saturates, NaN gives 0";
            TruncateI32 "truncate-i32" [F32 F64] [Dest32 Source] 1 [Conversion] TruncateI32 "conversion towards zero; saturates, NaN gives 0";
            TruncateI64 "truncate-i64" [F32 F64] [Dest64 Source] 1 [Conversion] TruncateI64 "conversion towards zero; saturates, NaN gives 0";
            TruncateU8 "truncate-u8" [F32 F64] [Dest8 Source] 1 [Conversion] TruncateU8 "conversion towards zero; saturates, NaN gives 0";
            TruncateU16 "truncate-u16" [F32 F64] [Dest16 Source] 1 [Conversion] TruncateU16 "conversion towards zero; saturates, NaN gives 0";
            TruncateU32 "truncate-u32" [F32 F64] [Dest32 Source] 1 [Conversion] TruncateU32 "conversion towards zero; saturates, NaN gives 0";
            TruncateU64 "truncate-u64" [F32 F64] [Dest64 Source] 1 [Conversion] TruncateU64 "conversion towards zero; saturates, NaN gives 0";

            // Strings, given by the address of their capacity word.
            CompareString "compare-string" [U8] [Dest8 Address Address] 1 [NullReference Address] CompareString "-1, 0 or 1 (signed): order of two STRINGs, the shorter filled with code 0";
            CompareWideString "compare-wide-string" [U16] [Dest8 Address Address] 1 [NullReference Address] CompareWideString "-1, 0 or 1 (signed): order of two WSTRINGs, the shorter filled with code 0";
            CopyString "copy-string" [U8] [Address Address] 1 [StringCut NullReference Address] CopyString "copies a STRING to the first address; cut at the capacity there";
            CopyWideString "copy-wide-string" [U16] [Address Address] 1 [StringCut NullReference Address] CopyWideString "copies a WSTRING to the first address; cut at the capacity there";

            // Control flow.
            Jump "jump" [U8] [Label] 1 [Watchdog] Jump "continues at the label";
            JumpIf "jump-if" [U8] [Source8 Label] 1 [Watchdog] JumpIf "continues at the label where the BOOL is TRUE";
            JumpUnless "jump-unless" [U8] [Source8 Label] 1 [Watchdog] JumpUnless "continues at the label where the BOOL is FALSE";
            ForEnter "for-enter" [I8 I16 I32 I64 U8 U16 U32 U64] [Source Source Source Label] 1 [ForStepZero Watchdog] ForEnter "control, limit, step: to the label where the loop body must not run";
            ForNext "for-next" [I8 I16 I32 I64 U8 U16 U32 U64] [Dest Source Source Label] 1 [Watchdog] ForNext "control, limit, step: steps and continues at the label while within the limit";
            Call "call" [U8] [Unit] 1 [Watchdog] Call "calls a unit with the instance of the caller";
            CallBlock "call-block" [U8] [Unit Region] 1 [Watchdog] CallBlock "calls a unit with the instance at a place";
            CallBlockAt "call-block-at" [U8] [Unit Address] 1 [NullReference Address Watchdog] CallBlockAt "calls a unit with the instance at an address";
            Return "return" [U8] [] 1 [] Return "ends the unit";
            Native "native" [U8] [Native Region] 1 [Address] Native "runs a native function on the frame at a place";
            NativeAt "native-at" [U8] [Native Address] 1 [NullReference Address] NativeAt "runs a native function on the frame at an address";
            Event "event" [U8] [EventCode] 1 [] RecordEvent "records an event of the given kind";
            EventMark "event-mark" [U32] [Dest32] 1 [] EventMark "number of events recorded so far, modulo 2^32";
            Now "now" [I64] [Dest64] 1 [] Now "time that the running release sees, in nanoseconds";

            // Instances that are known at run time only. They begin with the tag of their type, 32 bits.
            CallMethod "call-method" [U8] [Dispatch Address] 1 [NullReference Address Recursion CallDepth Watchdog] CallMethod "calls the unit that the table gives for the tag of the instance at an address, with that instance";
            Fits "fits" [U8] [Dest8 Address Dispatch] 1 [Address] Fits "BOOL: the address is not NULL and the table has the tag of the instance there";

            // Standard function blocks, each in one instruction on its instance: at a place, and at an address.
            SetDominant "set-dominant" [U8] [Bistable] 1 [] SetDominant "SR: Q1 := S1 OR NOT R AND Q1";
            SetDominantAt "set-dominant-at" [U8] [Address] 1 [NullReference Address] SetDominantAt "SR: the same on the instance at an address";
            ResetDominant "reset-dominant" [U8] [Bistable] 1 [] ResetDominant "RS: Q1 := NOT R1 AND (S OR Q1)";
            ResetDominantAt "reset-dominant-at" [U8] [Address] 1 [NullReference Address] ResetDominantAt "RS: the same on the instance at an address";
            RisingEdge "rising-edge" [U8] [Trigger] 1 [] RisingEdge "R_TRIG: Q where CLK has become TRUE";
            RisingEdgeAt "rising-edge-at" [U8] [Address] 1 [NullReference Address] RisingEdgeAt "R_TRIG: the same on the instance at an address";
            FallingEdge "falling-edge" [U8] [Trigger] 1 [] FallingEdge "F_TRIG: Q where CLK has become FALSE";
            FallingEdgeAt "falling-edge-at" [U8] [Address] 1 [NullReference Address] FallingEdgeAt "F_TRIG: the same on the instance at an address";
            CountUp "count-up" [I16 I32 I64 U32 U64] [Counter] 1 [] CountUp "CTU: counts up at an edge of CU, to the limit of the type; R sets 0";
            CountUpAt "count-up-at" [I16 I32 I64 U32 U64] [Address] 1 [NullReference Address] CountUpAt "CTU: the same on the instance at an address";
            CountDown "count-down" [I16 I32 I64 U32 U64] [Counter] 1 [] CountDown "CTD: counts down at an edge of CD, to the limit of the type; LD loads PV";
            CountDownAt "count-down-at" [I16 I32 I64 U32 U64] [Address] 1 [NullReference Address] CountDownAt "CTD: the same on the instance at an address";
            LoadCount "load-count" [I16 I32 I64 U32 U64] [Counter] 1 [] LoadCount "CTD: loads PV, for the input operator PV";
            LoadCountAt "load-count-at" [I16 I32 I64 U32 U64] [Address] 1 [NullReference Address] LoadCountAt "CTD: the same on the instance at an address";
            CountUpDown "count-up-down" [I16 I32 I64 U32 U64] [UpDownCounter] 1 [] CountUpDown "CTUD: counts both ways; R before LD before counting";
            CountUpDownAt "count-up-down-at" [I16 I32 I64 U32 U64] [Address] 1 [NullReference Address] CountUpDownAt "CTUD: the same on the instance at an address";
            CompareCount "compare-count" [I16 I32 I64 U32 U64] [UpDownCounter] 1 [] CompareCount "CTUD: QU and QD from CV and PV, for the input operator PV";
            CompareCountAt "compare-count-at" [I16 I32 I64 U32 U64] [Address] 1 [NullReference Address] CompareCountAt "CTUD: the same on the instance at an address";
            Pulse "pulse" [I64] [Timer] 1 [] Pulse "TP: a pulse of the length PT at an edge of IN";
            PulseAt "pulse-at" [I64] [Address] 1 [NullReference Address] PulseAt "TP: the same on the instance at an address";
            OnDelay "on-delay" [I64] [Timer] 1 [] OnDelay "TON: Q when IN has been TRUE for PT";
            OnDelayAt "on-delay-at" [I64] [Address] 1 [NullReference Address] OnDelayAt "TON: the same on the instance at an address";
            OffDelay "off-delay" [I64] [Timer] 1 [] OffDelay "TOF: Q until IN has been FALSE for PT";
            OffDelayAt "off-delay-at" [I64] [Address] 1 [NullReference Address] OffDelayAt "TOF: the same on the instance at an address";

            // Measuring coverage. They count for nothing and change nothing but the log of the machine.
            ObservePoint "observe-point" [U8] [Point] 0 [] ObservePoint "notes that the point was passed";
            ObserveValue "observe-value" [U8] [Source8 Points] 0 [] ObserveValue "notes the first point where the BOOL is FALSE, the second where TRUE";
            ObserveLoop "observe-loop" [I8 I16 I32 I64 U8 U16 U32 U64] [Source Source Source Points] 0 [] ObserveLoop "control, limit, step: notes the first point where the loop body must not run, the second where it runs";
            ObserveCondition "observe-condition" [U8] [Source8 Decision Condition] 0 [] ObserveCondition "notes the BOOL as the value of a condition of the decision";
            ObserveOutcome "observe-outcome" [U8] [Source8 Decision Immediate] 0 [] ObserveOutcome "notes the BOOL as the outcome of the decision, negated where the number is not 0, with the conditions noted last";

            // Telling reasons. They count for nothing and change nothing but the journal of the machine.
            NoteStatement "note-statement" [U8] [Immediate] 0 [] NoteStatement "notes that the statement with the number begins, and for which instance";
            NoteValue "note-value" [U8 U16 U32 U64] [Source Immediate] 0 [] NoteValue "notes the bytes as the value of the part with the number";
            NotePlace "note-place" [U8] [Region Immediate] 0 [] NotePlace "notes the address of the place as that of the part with the number";
            NoteAddress "note-address" [U8] [Source32 Immediate Immediate] 0 [] NoteAddress "notes the address, so many bytes further on, as that of the part with the number";
        }
    };
}

pub(crate) use for_each_instruction;
