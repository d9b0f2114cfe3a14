//! The instruction reference as a Markdown table, made from the instruction table.

use super::Family;
use std::fmt::Write as _;

/// A Markdown table of all instruction families: name, scalars, operands, cost, what it may raise, meaning.
#[must_use]
pub fn instruction_reference() -> String {
    let mut text = String::from(
        "| Instruction | Scalars | Operands | Count | May raise | Meaning |\n|---|---|---|---:|---|---|\n",
    );
    for family in Family::ALL {
        let description = family.description();
        let scalars: Vec<&str> = match description.scalars {
            [_] => Vec::new(),
            scalars => scalars.iter().map(|scalar| scalar.suffix()).collect(),
        };
        let operands: Vec<&str> = description.operands.iter().map(|kind| kind.notation()).collect();
        let raises: Vec<&str> = description.raises.iter().map(|raised| raised.name()).collect();
        // Writing to a String cannot fail.
        let _ = writeln!(
            text,
            "| `{}` | {} | {} | {} | {} | {} |",
            description.mnemonic,
            scalars.join(" "),
            operands.join(", "),
            description.cost,
            raises.join(", "),
            description.summary
        );
    }
    text
}
