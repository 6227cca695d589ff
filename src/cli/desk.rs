//! `dorso desk`: settle the doubtful readings on a page of this machine.

use super::keeping;
use super::{Finished, Outcome, put};
use crate::desk::{self, Options};
use crate::error::{Error, Kind, Result};
use crate::gazetteer;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener};
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// The port that is tried first, so that a page left open finds the desk again.
const PORT: u16 = 5317;

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// The store; else the one named by DORSO_STORE, else that of this user
    #[arg(long, value_name = "FILE")]
    store: Option<PathBuf>,
    /// Folder of the lists
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    /// Who decides; else the name in DORSO_BY, else that by which this machine knows you
    #[arg(long, value_name = "WHO")]
    by: Option<String>,
    /// Port; 0 for any that is free. Else 5317 if it is free
    #[arg(long, value_name = "PORT")]
    port: Option<u16>,
    /// Address that others can reach, for use from another machine
    #[arg(long, value_name = "IP")]
    address: Option<IpAddr>,
    /// A file with the key that a browser has to know; else one is made up and kept beside the store
    #[arg(long, value_name = "FILE")]
    key_file: Option<PathBuf>,
    /// Let a phone in too, by a QR code, at this machine's address on its network or at the one given with --address
    #[arg(long)]
    phone: bool,
    /// Print the address with its key and open no browser
    #[arg(long)]
    no_open: bool,
}

/// Runs the command until it is ended.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    // A phone has a door of its own: the page itself stays on this machine
    let page = arguments.address.filter(|_| !arguments.phone);
    let ip = page.unwrap_or(Ipv4Addr::LOCALHOST.into());
    let listener = listen(ip, arguments.port)?;
    let options = Options {
        store: keeping::store_file(arguments.store)?,
        lists: gazetteer::locate(arguments.gazetteer.as_deref())?,
        by: keeping::author(arguments.by)?,
        key_file: arguments.key_file,
        phone: arguments.phone.then_some(arguments.address),
    };
    drop(keeping::opened(&options.store)?);
    desk::serve(options, listener, |page, link, phone| {
        put(&format!("{page}\n{}", phone.unwrap_or_default()))?;
        if !arguments.no_open && !open(link) {
            eprintln!("dorso: no browser could be opened; open {page} yourself.");
        }
        Ok(())
    })?;
    Ok(Finished::Well)
}

fn listen(ip: IpAddr, port: Option<u16>) -> Result<TcpListener> {
    let at = |port| TcpListener::bind(SocketAddr::new(ip, port));
    match port {
        Some(port) => at(port).map_err(|e| taken(ip, port, &e)),
        None => at(PORT).or_else(|_| at(0)).map_err(|e| taken(ip, PORT, &e)),
    }
}

fn taken(ip: IpAddr, port: u16, e: &std::io::Error) -> Error {
    Error::new(
        Kind::Output,
        format!("{ip}:{port}"),
        format!("the page can't be served there ({e})"),
        "give another --port (0 for any that is free), or an --address of this machine",
    )
}

/// Opens the page in the person's browser; false where that can't be done.
fn open(page: &str) -> bool {
    let program = if cfg!(target_os = "macos") {
        "open"
    } else if cfg!(windows) {
        "explorer"
    } else {
        "xdg-open"
    };
    Command::new(program)
        .arg(page)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .is_ok()
}
