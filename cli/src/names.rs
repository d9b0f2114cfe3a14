//! The list of names after `--record`.

/// Names in the order given.
pub(crate) type List = Vec<String>;

/// Splits at commas, but not at those between brackets: `Grid[1,2].Level,Pump` are two names.
pub(crate) fn list(text: &str) -> Result<List, String> {
    let mut names = vec![String::new()];
    let mut depth = 0_u32;
    for character in text.chars() {
        match character {
            '[' => depth = depth.saturating_add(1),
            ']' => depth = depth.saturating_sub(1),
            ',' if depth == 0 => {
                names.push(String::new());
                continue;
            }
            _ => {}
        }
        if let Some(name) = names.last_mut() {
            name.push(character);
        }
    }
    let names: List = names.iter().map(|name| name.trim().to_string()).collect();
    if names.iter().any(String::is_empty) {
        return Err(
            "a name is missing; write names with commas between them, like `Main.Start,Main.Pump`".into()
        );
    }
    Ok(names)
}

#[cfg(test)]
mod tests {
    use super::list;

    #[test]
    fn commas_between_brackets_belong_to_the_name() {
        assert_eq!(list("Pump, Grid[1,2].Level,%IX0.0").unwrap(), ["Pump", "Grid[1,2].Level", "%IX0.0"]);
        assert!(list("Pump,,Start").is_err());
        assert!(list("").is_err());
    }
}
