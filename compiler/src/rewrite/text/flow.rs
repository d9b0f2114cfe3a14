//! Labels, jumps and returns in Instruction List: where the current result goes on the ways through a body.

use latchwork_grammar::{Name, tree::Condition};

use super::{
    fold::{Current, Folder},
    item::{Decision, Item, ItemKind},
    stores::kept,
    value::Value,
};
use crate::rewrite::refusal::Refusal;

impl Folder<'_> {
    /// The condition of an instruction and the value it must have.
    pub(super) fn decision(&mut self, condition: Condition, live: bool) -> Result<Decision, Refusal> {
        if condition == Condition::Always {
            self.drop_current();
            return Ok(None);
        }
        if live
            && let Current::Value(value, _) = &self.current
            && (!value.is_short() || value.acts())
        {
            self.keep()?;
        }
        let (value, span) = self.take()?;
        if live {
            self.current = Current::Value(value.clone(), span);
        }
        Ok(Some((value, condition == Condition::IfTrue)))
    }

    pub(super) fn jump(
        &mut self,
        condition: Condition,
        label: Name,
        live: bool,
        needed: bool,
    ) -> Result<(), Refusal> {
        if needed {
            if condition != Condition::Always
                && let Current::Value(value, _) = &self.current
                && !value.is_short()
            {
                self.keep()?;
            }
            self.bring(label)?;
        }
        let decision = if condition == Condition::Always && needed {
            self.current = Current::Nothing;
            None
        } else {
            self.decision(condition, live)?
        };
        self.emit(ItemKind::Jump { label, decision });
        Ok(())
    }

    /// Leaves the current result where a label finds it.
    fn bring(&mut self, label: Name) -> Result<(), Refusal> {
        let (value, span) = self.take()?;
        let name = match self.results.get(&label) {
            Some((name, _)) => name.clone(),
            None => {
                let (name, ty) = self.variable(span)?;
                self.results.insert(label, (name.clone(), ty));
                name
            }
        };
        let from = self.from;
        self.emit(ItemKind::Assign { target: name.clone(), value, attempt: false, kind: None });
        self.from = from.map(|_| self.at.start);
        self.current = Current::Value(kept(name), span);
        Ok(())
    }

    pub(super) fn enter_label(&mut self, label: Name, reached: bool, live: bool) -> Result<(), Refusal> {
        let mut current = Current::Nothing;
        if live {
            if reached {
                self.bring(label)?;
            }
            let span = match &self.current {
                Current::Value(_, span) => *span,
                Current::Nothing => self.at,
            };
            let Some((name, _)) = self.results.get(&label) else {
                return Err(Refusal::new(
                    self.at,
                    "a result that only jumps back to this label bring",
                    "store the result in a variable before the jump and load it at the label",
                ));
            };
            current = Current::Value(kept(name.clone()), span);
        } else {
            self.drop_current();
        }
        let at = self.at;
        self.items.push(Item { kind: ItemKind::Label(label), from: at.start, to: at.start });
        self.from = Some(at.start);
        self.current = current;
        Ok(())
    }

    /// Gives up the current result: a call in it runs all the same.
    pub(super) fn drop_current(&mut self) {
        match std::mem::replace(&mut self.current, Current::Nothing) {
            Current::Value(Value::Call(call), _) if call.acts => {
                // What follows is another statement.
                let from = self.from.take().unwrap_or(self.at.start);
                let kind = ItemKind::Call { callee: call.callee, arguments: call.arguments, decision: None };
                self.items.push(Item { kind, from, to: self.dropped_end() });
            }
            Current::Value(value, span) if value.acts() => {
                let kept = self.variable(span).map(|(name, _)| name);
                let from = self.from.take().unwrap_or(self.at.start);
                if let Ok(target) = kept {
                    let kind = ItemKind::Assign { target, value, attempt: false, kind: None };
                    self.items.push(Item { kind, from, to: self.dropped_end() });
                }
            }
            _ => {}
        }
        self.from = Some(self.at.start);
    }

    /// Where what was dropped ends: before the instruction that is being worked on.
    fn dropped_end(&self) -> u32 {
        let last = self.items.last().map_or(0, |item| item.to);
        self.at.start.max(last)
    }
}
