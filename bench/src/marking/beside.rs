//! What the reference does where a submission failed: the same procedure, at the pace of the submission.

use std::sync::Arc;

use super::marker::Marker;
use crate::{
    procedure::{Failure, RunOptions},
    recording::Recording,
};

impl Marker<'_> {
    /// Devices and loads in a run of the reference in which the panel is worked in the same scans as in the run that failed,
    /// and as long; `None` without a reference, or where the pace of that run was not kept.
    pub(super) fn expected_beside(&self, item: usize, failure: &Failure) -> Option<Arc<Recording>> {
        let pace = failure.pace.clone()?;
        let reference = self.parts.reference.as_ref()?;
        let (file, index) = self.places.get(item).copied().flatten()?;
        let rows = self.rows();
        if rows.is_empty() {
            return None;
        }
        let options =
            RunOptions { record: Some(rows), brief: true, pace: Some(Arc::new(pace)), ..self.run_options() };
        let script = self.script(file, reference).ok()?;
        script.run(index, &options).compared.map(Arc::new)
    }
}
