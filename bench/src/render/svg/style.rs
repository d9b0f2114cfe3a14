//! The style sheet of an SVG diagram: colours of our own for light, dark and print, system fonts.
//!
//! Every colour is doubled by a word and a line style, so that the picture holds in black and white. The names of
//! classes begin with `lw-` because the picture may stand inside a page with a style of its own.

/// The style sheet. Text colours reach a contrast of 4.5 to 1 on their ground, lines 3 to 1 (WCAG 2.2, 1.4.3 and
/// 1.4.11). On paper the picture takes the width of the page, so that nothing is cut off.
pub(super) const STYLE: &str = "
.lw{--ground:#fcfbf8;--band:#f1efe8;--ink:#23271f;--faint:#5c6257;--grid:#e0ddd2;--grid-strong:#c2beb0;\
--device:#a14a12;--terminal:#1f5d8c;--output:#2b6b33;--output-fill:#cfe6cf;--variable:#4b3f72;--fault:#b3202c;\
font-family:system-ui,-apple-system,'Segoe UI',Roboto,'Noto Sans','DejaVu Sans',sans-serif;font-size:13px}
@media (prefers-color-scheme:dark){.lw{--ground:#181b17;--band:#22261f;--ink:#ebe8dd;--faint:#a9ad9f;\
--grid:#2c302a;--grid-strong:#4a4f45;--device:#f0a261;--terminal:#7fbbe8;--output:#86cf8c;--output-fill:#1f4024;\
--variable:#b9a9ea;--fault:#ff8a8a}}
@media print{.lw{width:100%;height:auto;--ground:#fff;--band:#fff;--ink:#000;--faint:#000;--grid:#ccc;--grid-strong:#888;--device:#000;\
--terminal:#000;--output:#000;--output-fill:#ddd;--variable:#000;--fault:#000}}
.lw-ground{fill:var(--ground)}.lw-band{fill:var(--band)}
.lw text{fill:var(--ink)}.lw-title{font-size:18px;font-weight:600}.lw-group{font-weight:600}.lw-name{font-weight:600}
.lw .lw-faint{fill:var(--faint);font-size:11px}.lw .lw-word{fill:var(--faint);font-size:9.5px;text-anchor:end}
.lw .lw-time{fill:var(--faint);font-size:11px;font-variant-numeric:tabular-nums}
.lw .lw-fault{fill:var(--fault);font-size:11px;font-weight:600}
.lw-value{font-size:10.5px;font-variant-numeric:tabular-nums}
.lw-minor{stroke:var(--grid);fill:none}.lw-major{stroke:var(--grid-strong);fill:none}
.lw-base{stroke:var(--grid-strong);fill:none;stroke-dasharray:1 3}
.lw-wave,.lw-busy{fill:none;stroke-linejoin:round}
.lw-device .lw-wave{stroke:var(--device);stroke-width:3}.lw-terminal .lw-wave{stroke:var(--terminal);stroke-width:1.4}
.lw-output .lw-wave{stroke:var(--output);stroke-width:1.8}.lw-variable .lw-wave{stroke:var(--variable);stroke-width:1.4}
.lw-fill{fill:var(--output-fill);stroke:none}
.lw-device .lw-busy{stroke:var(--device)}.lw-terminal .lw-busy{stroke:var(--terminal)}
.lw-output .lw-busy{stroke:var(--output)}.lw-variable .lw-busy{stroke:var(--variable)}
";

/// Added to the style sheet of a diagram that shows the steps of charts.
pub(super) const STEP_STYLE: &str = "\
.lw-step .lw-wave{stroke:var(--variable);stroke-width:1.4}.lw-step .lw-busy{stroke:var(--variable)}
.lw-step .lw-fill{fill:var(--band)}
";

/// Added to the style sheet of a diagram that shows what was expected above what was: dashed above solid.
pub(super) const COMPARED_STYLE: &str = "\
.lw-expected .lw-wave{stroke:var(--ink);stroke-width:1.6;stroke-dasharray:5 3}.lw-expected .lw-busy{stroke:var(--ink)}
.lw-actual .lw-wave{stroke:var(--output);stroke-width:2.2}.lw-actual .lw-busy{stroke:var(--output)}
.lw-unknown{fill:var(--ground);stroke:var(--grid-strong);stroke-dasharray:1 3}
";
