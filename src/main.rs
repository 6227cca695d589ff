//! Parses the command line and calls the library.

fn main() -> std::process::ExitCode {
    dorso::cli::main()
}
