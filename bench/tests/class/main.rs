//! A class: its figures, its gradebook, its documents and its page.

#![allow(clippy::unwrap_used)]

mod commonest;
mod documents;
mod figures;
mod gradebook;
mod laws;
mod made;
mod page;
mod schema;
mod summary;
