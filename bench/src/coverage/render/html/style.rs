//! The style sheet of a page, and its digest for the content security policy.

/// The style sheet. Text colours reach a contrast of 4.5 to 1 on their ground (WCAG 2.2, 1.4.3).
pub(super) const STYLE: &str = "
:root{color-scheme:light dark;--ground:#fcfbf8;--band:#f1efe8;--ink:#23271f;--faint:#5c6257;--line:#c2beb0;\
--covered:#235c2b;--covered-ground:#e4f0e2;--partly:#7a4a00;--partly-ground:#faeed2;--missed:#a01826;\
--missed-ground:#fae3e1;--link:#1f5d8c}
@media (prefers-color-scheme:dark){:root{--ground:#181b17;--band:#22261f;--ink:#ebe8dd;--faint:#a9ad9f;\
--line:#4a4f45;--covered:#93d99b;--covered-ground:#1c2f1f;--partly:#f0c070;--partly-ground:#352a12;\
--missed:#ff9c98;--missed-ground:#3d1d1d;--link:#8cc4ee}}
*{box-sizing:border-box}
body{margin:0 auto;max-width:76rem;padding:1rem 1.25rem 3rem;background:var(--ground);color:var(--ink);\
font:1rem/1.5 system-ui,-apple-system,'Segoe UI',Roboto,'Noto Sans','DejaVu Sans',sans-serif}
h1{margin:0}h2{margin:2rem 0 .5rem;border-bottom:1px solid var(--line)}h3{margin:1.5rem 0 .5rem}
header p{margin:0;color:var(--faint)}footer{margin-top:2rem;color:var(--faint);font-size:.9rem}
a{color:var(--link)}
code{font-family:ui-monospace,'Cascadia Mono','DejaVu Sans Mono',Menlo,Consolas,monospace;font-size:.9em}
table{border-collapse:collapse}
th,td{padding:.2rem .6rem;text-align:left;vertical-align:top}
thead th{border-bottom:1px solid var(--line);color:var(--faint);font-weight:600}
.figures{width:100%}.figures td,.figures thead th+th{text-align:right;font-variant-numeric:tabular-nums;\
white-space:nowrap}
.figures tbody tr+tr>*{border-top:1px solid var(--band)}.figures .covered{color:var(--covered)}
.percent{display:inline-block;min-width:3.5rem;color:inherit}meter{width:3.5rem;height:.75rem;vertical-align:middle}
.missing{padding-left:1.25rem}.missing li{margin:.35rem 0}.advice,.file{color:var(--faint)}.file{font-weight:400;font-size:.9rem}\
.figures tbody th{min-width:9rem;overflow-wrap:break-word}
.legend .sign{display:inline-block;width:1.5rem;margin-left:1rem;text-align:center;font-weight:700}
.source{width:100%;table-layout:fixed;border:1px solid var(--line)}
.source>thead th{position:relative;padding:0;border:0}.of-sign{width:2rem}.of-number{width:4.5rem}
.source tr>td{padding:0 .5rem}.source .sign{text-align:center;font-weight:700}
.source .number{text-align:right;font-variant-numeric:tabular-nums}
.source .number a{color:var(--faint);text-decoration:none}
.source .text code{white-space:pre-wrap;overflow-wrap:anywhere;tab-size:4}
.source tr:target>td{outline:2px solid var(--link);outline-offset:-2px}
tr.covered .sign,.sign.covered{background:var(--covered-ground);color:var(--covered)}
tr.partly .sign,.sign.partly{background:var(--partly-ground);color:var(--partly)}
tr.missed .sign,.sign.missed{background:var(--missed-ground);color:var(--missed)}
tr.missed .text{background:var(--missed-ground)}
.source .below>td{padding:.25rem .5rem .75rem}.ways{margin:.25rem 0;color:var(--partly)}
.decision{display:flex;flex-wrap:wrap;align-items:flex-start;gap:.25rem 2rem;margin:.25rem 0;padding:.25rem .75rem;\
border-left:3px solid var(--line);background:var(--band);font-size:.9rem}
.decision p{flex-basis:100%;margin:.25rem 0;overflow-wrap:anywhere}.vectors td,.vectors th{padding:.05rem .5rem;text-align:center}
.vectors .true{font-weight:700}.conditions{flex:1 1 24rem}.conditions .covered{color:var(--covered)}
.conditions .missed{color:var(--missed)}
.unseen{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}
.wide{overflow-x:auto}
@media (max-width:75rem){meter{display:none}}\
@media (max-width:60rem){.figures th,.figures td{padding:.2rem .35rem}\
.percent{display:block;min-width:0}.of-number{width:3rem}}
@media print{:root{--ground:#fff;--band:#fff;--ink:#000;--faint:#000;--line:#888;--covered:#000;\
--covered-ground:#fff;--partly:#000;--partly-ground:#fff;--missed:#000;--missed-ground:#fff;--link:#000}
body{max-width:none;padding:0;font-size:10pt}a{text-decoration:none}h2,h3{break-after:avoid}
tr,.decision,.missing li{break-inside:avoid}thead{display:table-header-group}meter{display:none}}
";

/// SHA-256 of the style sheet as a content security policy names it (W3C Content Security Policy, 2.3.1).
pub(super) const STYLE_DIGEST: &str = "sha256-ljGM/Tu+veDak9CQRz2bNP7s468LRpFA1yQ0UjENHIA=";

#[cfg(test)]
mod tests {
    use sha2::{Digest, Sha256};

    use super::*;

    /// Base 64 of RFC 4648.
    fn base64(bytes: &[u8]) -> String {
        const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
        let mut text = String::new();
        for chunk in bytes.chunks(3) {
            let word =
                chunk.iter().fold(0u32, |word, byte| word << 8 | u32::from(*byte)) << (8 * (3 - chunk.len()));
            for place in 0..4 {
                let letter = LETTERS[(word >> (18 - 6 * place) & 63) as usize];
                text.push(if place <= chunk.len() { char::from(letter) } else { '=' });
            }
        }
        text
    }

    #[test]
    fn the_digest_is_that_of_the_style_sheet() {
        assert_eq!(base64(b"f"), "Zg==");
        assert_eq!(base64(b"fo"), "Zm8=");
        assert_eq!(base64(b"foobar"), "Zm9vYmFy");
        assert_eq!(STYLE_DIGEST, format!("sha256-{}", base64(&Sha256::digest(STYLE))));
        assert!(!STYLE.contains("url(") && !STYLE.contains("@import") && !STYLE.contains('<'));
    }
}
