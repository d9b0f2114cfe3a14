//! The style sheet of a sheet of rungs: colours of our own for light, dark and print, system fonts.

/// Text colours reach a contrast of 4.5 to 1 on their ground, lines 3 to 1 (WCAG 2.2, 1.4.3 and 1.4.11). Continuity is told
/// by the width of a line, whatever its colour. The names of classes begin with `lr-` because the picture may stand inside
/// a page with a style of its own.
pub(super) const STYLE: &str = "
.lr{--ground:#fcfbf8;--ink:#23271f;--faint:#5c6257;--line:#6b7165;--live:#2b6b33;\
font-family:system-ui,-apple-system,'Segoe UI',Roboto,'Noto Sans','DejaVu Sans',sans-serif;font-size:12px}
@media (prefers-color-scheme:dark){.lr{--ground:#181b17;--ink:#ebe8dd;--faint:#a9ad9f;--line:#9aa091;--live:#86cf8c}}
@media print{.lr{width:100%;height:auto;--ground:#fff;--ink:#000;--faint:#000;--line:#000;--live:#000}}
.lr-ground{fill:var(--ground)}.lr text{fill:var(--ink)}.lr .lr-faint{fill:var(--faint);font-size:11px}
.lr .lr-title{font-size:17px;font-weight:600}.lr .lr-heading{font-size:13px;font-weight:600}
.lr .lr-strong{font-weight:600}.lr .lr-true{fill:var(--live);font-size:11px;font-weight:600}
.lr .lr-source{font-family:ui-monospace,'Cascadia Mono','DejaVu Sans Mono',monospace;font-size:12px;white-space:pre}
.lr-light{fill:none;stroke:var(--line);stroke-width:1.3}.lr-live{fill:none;stroke:var(--live);stroke-width:4;stroke-linecap:square}
.lr-middle{text-anchor:middle}.lr-end{text-anchor:end}
";
