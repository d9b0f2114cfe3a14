//! The functions on STRINGs as compiled code calls them: with the context of the run.

use super::super::texts::{copy_text as copy, operations, search};
use super::support::Context;

macro_rules! called {
    ($($name:ident($($argument:ident: $kind:ty),*) = $work:path;)*) => {$(
        #[doc = concat!("As [`", stringify!($work), "`].")]
        ///
        /// # Safety
        /// The context is that of a run.
        pub(super) unsafe extern "C" fn $name(
            context: *mut Context,
            $($argument: $kind),*
        ) -> i64 {
            // SAFETY: the data image of the context is that of the run.
            unsafe { $work((*context).image(), $($argument),*) }
        }
    )*};
}

called! {
    copy_text(to: u32, from: u32) = copy;
    compare(left: u32, right: u32) = search::compare;
    length(text: u32) = operations::length;
    append(source: u32, result: u32) = operations::append;
    middle(source: u32, count: u64, position: u64, result: u32) = operations::middle;
    right(source: u32, count: u64, result: u32) = operations::right;
    insert(source: u32, inserted: u32, behind: u64, result: u32) = operations::insert;
    delete(source: u32, count: u64, position: u64, result: u32) = operations::delete;
    replace(source: u32, put: u32, count: u64, position: u64, result: u32) = operations::replace;
    find(text: u32, wanted: u32) = search::find;
    write_signed(number: i64, result: u32) = operations::write_signed;
    write_unsigned(number: u64, result: u32) = operations::write_unsigned;
}
