//! How much of what was handed in is looked at. Students' files are hostile until the opposite is shown; with these limits
//! one submission takes at most some hundred megabytes and seconds, whatever is in it.

/// Submissions of a class.
pub(crate) const SUBMISSIONS_MAX: usize = 10_000;

/// Files and folders of one submission, those of zips in it among them.
pub(crate) const ENTRIES_MAX: usize = 1_000;

/// Folders in one another in a submission.
pub(crate) const DEPTH_MAX: usize = 8;

/// Bytes of the name of a file with its folders.
pub(crate) const NAME_BYTES_MAX: usize = 1_024;

/// Bytes of the zip of a whole class.
pub(crate) const CLASS_ZIP_BYTES_MAX: u64 = 2 * 1024 * 1024 * 1024;

/// Entries in the zip of a whole class.
pub(crate) const CLASS_ZIP_ENTRIES_MAX: usize = 100_000;

/// Bytes of the directory of a zip: names, and what else is noted about its entries.
pub(crate) const ZIP_DIRECTORY_BYTES_MAX: u64 = 32 * 1024 * 1024;

/// Bytes of a zip that was handed in. One that lies in the zip of the class is held in memory while it is read.
pub(crate) const ZIP_BYTES_MAX: u64 = 32 * 1024 * 1024;

/// Bytes that are read of one submission altogether: its texts, zips that are unpacked, beginnings of files that turn out
/// to be no text. All submissions together are at most this times [`SUBMISSIONS_MAX`], one after another.
pub(crate) const READ_BYTES_MAX: u64 = 64 * 1024 * 1024;

/// Bytes at the beginning of a file that tell whether it is worth reading on.
pub(crate) const HEAD_BYTES: u64 = 4_096;

/// Files that were not read, and problems, as told of one submission or of the class; of more there is the number.
pub(crate) const TOLD_MAX: usize = 50;

/// Bytes of a pattern of names.
pub(crate) const PATTERN_BYTES_MAX: usize = 1_024;

/// Bytes of a roster.
pub(crate) const ROSTER_BYTES_MAX: usize = 4 * 1024 * 1024;

/// Members on a roster.
pub(crate) const ROSTER_MEMBERS_MAX: usize = 10_000;

/// Bytes of a name made for a student's files.
pub(crate) const SLUG_BYTES_MAX: usize = 80;
