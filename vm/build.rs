//! Decides whether the threaded dispatcher can be built: it relies on calls in tail position becoming jumps, which
//! the compiler does from optimisation level 2 on (also when optimising for size) on the targets that were measured.

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    println!("cargo::rustc-check-cfg=cfg(threaded_dispatch)");
    println!("cargo::rustc-check-cfg=cfg(compiled_form)");
    let variable = |name: &str| std::env::var(name).unwrap_or_default();
    let optimised = matches!(variable("OPT_LEVEL").as_str(), "2" | "3" | "s" | "z");
    let target = matches!(variable("CARGO_CFG_TARGET_ARCH").as_str(), "x86_64" | "aarch64");
    let checked = std::env::var_os("CARGO_CFG_DEBUG_ASSERTIONS").is_some();
    let interpreted = std::env::var_os("CARGO_CFG_MIRI").is_some();
    // Cargo.toml names the same targets.
    if target && !interpreted {
        println!("cargo::rustc-cfg=compiled_form");
    }
    if optimised && target && !checked && !interpreted {
        println!("cargo::rustc-cfg=threaded_dispatch");
    }
}
