//! Names of files as students see them: where the files of an exercise lie is the instructor's concern, and the same
//! exercise in another folder gives the same pages and marks.

use latchwork_grammar::Sources;

/// The last part of a path.
pub(super) fn without_folder(name: &str) -> &str {
    name.rsplit(['/', '\\']).next().unwrap_or(name)
}

/// The same texts, by the same file numbers, under the last parts of their names.
pub(super) fn without_folders(sources: &Sources) -> Sources {
    let mut named = Sources::new();
    for (_, file) in sources.iter() {
        named.add(without_folder(&file.name), file.text.as_str());
    }
    named
}
