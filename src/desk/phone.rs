//! A phone as a second page of the desk: a door of its own on this machine's network, by TLS, with a key for the visit.
//!
//! The certificate is the desk's own; its fingerprint is shown, so that the person can hold it against what the phone
//! tells. The key stands in a QR code, holds as long as the desk runs, and is another one at the next start.

use super::key::keep;
use super::page::{Page, Place, page as lay};
use super::web::Reply;
use super::words as w;
use super::{Desk, random_word};
use crate::error::{Error, Kind, Result};
use crate::limits::TEXT_BYTES;
use base64::{Engine, engine::general_purpose::STANDARD};
use maud::html;
use qrcode::QrCode;
use qrcode::render::{svg, unicode};
use sha2::{Digest, Sha256};
use std::net::{IpAddr, SocketAddr, TcpListener, UdpSocket};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, SystemTime};
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};

/// A certificate is used so long; then there is a new one.
const LASTS: Duration = Duration::from_secs(300 * 24 * 3600);
/// An address that is kept for documents (RFC 5737): nothing is sent there, but this machine says from which address it would.
const ANYWHERE: &str = "192.0.2.1:9";

/// The door for phones.
#[derive(Debug)]
pub struct Phone {
    /// Where it listens.
    pub listener: TcpListener,
    /// How it speaks.
    pub tls: Arc<ServerConfig>,
    /// What a phone has to know.
    pub pairing: Pairing,
}

/// What a phone has to know to come in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pairing {
    /// Address and port, as a browser names them.
    pub host: String,
    /// Key of this visit.
    pub key: String,
    /// SHA-256 of the certificate: pairs of hex digits with colons between.
    pub fingerprint: String,
}

impl Pairing {
    /// The address that lets a phone in.
    pub fn link(&self) -> String {
        format!("https://{}/pair/{}", self.host, self.key)
    }

    fn code(&self) -> Result<QrCode> {
        QrCode::new(self.link()).map_err(|e| fault(format!("the QR code can't be drawn ({e})")))
    }

    /// For a terminal: the code, the address, the fingerprint.
    ///
    /// # Errors
    /// `Kind::Output` if the address is too long for a code.
    pub fn words(&self) -> Result<String> {
        // Terminals write light on dark: what is written stands for the paper
        let code = self
            .code()?
            .render::<unicode::Dense1x2>()
            .dark_color(unicode::Dense1x2::Light)
            .light_color(unicode::Dense1x2::Dark)
            .build();
        Ok(format!(
            "{code}\n{}\n{} {}\n",
            self.link(),
            w::FINGERPRINT,
            self.fingerprint
        ))
    }
}

fn fault(what: String) -> Error {
    Error::new(
        Kind::Output,
        "desk --phone",
        what,
        "name an address of this machine that the phone can reach with --address IP, or leave --phone out",
    )
}

impl Phone {
    /// Makes the door ready.
    ///
    /// * `ip`: this machine's address on the network; else the one from which it reaches others.
    ///
    /// # Errors
    /// `Kind::Output` if there is no network or the address can't be served, `Kind::Store` if the certificate can't be kept.
    pub fn new(store: &Path, ip: Option<IpAddr>) -> Result<Phone> {
        let ip = ip.map_or_else(own_address, Ok)?;
        let listener = TcpListener::bind(SocketAddr::new(ip, 0))
            .map_err(|e| fault(format!("phones can't be let in at {ip} ({e})")))?;
        let at = listener.local_addr().map_err(|e| fault(e.to_string()))?;
        let (certificate, key) = certificate(store, ip)?;
        let hex = Sha256::digest(&certificate);
        let hex: Vec<String> = hex.iter().map(|b| format!("{b:02X}")).collect();
        let tls = ServerConfig::builder()
            .with_no_client_auth()
            .with_single_cert(vec![certificate], key)
            .map_err(|e| fault(format!("its certificate can't be used ({e})")))?;
        let pairing = Pairing {
            host: at.to_string(),
            key: random_word()?,
            fingerprint: hex.join(":"),
        };
        let tls = Arc::new(tls);
        Ok(Phone {
            listener,
            tls,
            pairing,
        })
    }
}

/// The address from which this machine reaches others.
fn own_address() -> Result<IpAddr> {
    let asked = UdpSocket::bind("0.0.0.0:0").and_then(|s| {
        s.connect(ANYWHERE)?;
        s.local_addr()
    });
    match asked {
        Ok(at) if !at.ip().is_unspecified() => Ok(at.ip()),
        Ok(_) => Err(fault("this machine is on no network".into())),
        Err(e) => Err(fault(format!("this machine is on no network ({e})"))),
    }
}

/// The certificate with its key as kept beside the store for this address; made anew if there is none or it is old.
fn certificate(
    store: &Path,
    ip: IpAddr,
) -> Result<(CertificateDer<'static>, PrivateKeyDer<'static>)> {
    let file = beside(store, ip);
    if is_young(&file)
        && let Ok(text) = TEXT_BYTES.text(&file)
        && let Some(both) = parsed(&text)
    {
        return Ok(both);
    }
    let _ = std::fs::remove_file(&file);
    let made = rcgen::generate_simple_self_signed(vec![ip.to_string()])
        .map_err(|e| fault(format!("no certificate can be made ({e})")))?;
    let text = format!("{}{}", made.signing_key.serialize_pem(), made.cert.pem());
    keep(&file, &text)?;
    parsed(&text).ok_or_else(|| fault("the certificate that was made can't be read".into()))
}

fn parsed(text: &str) -> Option<(CertificateDer<'static>, PrivateKeyDer<'static>)> {
    let certificate = CertificateDer::from_pem_slice(text.as_bytes()).ok()?;
    let key = PrivateKeyDer::from_pem_slice(text.as_bytes()).ok()?;
    Some((certificate, key))
}

fn is_young(file: &Path) -> bool {
    let made = std::fs::symlink_metadata(file).ok().filter(super::key::own);
    let made = made.and_then(|m| m.modified().ok());
    made.and_then(|at| SystemTime::now().duration_since(at).ok())
        .is_some_and(|age| age < LASTS)
}

fn beside(store: &Path, ip: IpAddr) -> PathBuf {
    let name = store.file_name().unwrap_or_default().to_string_lossy();
    let ip = ip.to_string().replace(':', "-");
    store.with_file_name(format!(".{name}.desk-certificate-{ip}"))
}

/// The page that a phone is held before.
pub fn page(desk: &Desk) -> Result<Reply> {
    let body = match desk.pairing() {
        None => html! { p { (w::NO_PHONE) } },
        Some(p) => {
            let code = p
                .code()?
                .render::<svg::Color<'_>>()
                .min_dimensions(320, 320)
                .build();
            let code = format!("data:image/svg+xml;base64,{}", STANDARD.encode(code));
            html! {
                p { (w::HOLD_PHONE) }
                p { img.qr src=(code) alt=(w::QR_WORDS) width="320" height="320"; }
                p { (w::PHONE_BY_HAND) " " code { (p.link()) } }
                p { (w::PHONE_WARNS) }
                p { (w::FINGERPRINT) " " code.fingerprint { (p.fingerprint) } }
                p.hint { (w::PHONE_KEY) }
            }
        }
    };
    let shown = Page {
        title: w::PHONE_TITLE.into(),
        place: Place::Bring,
        scripts: &[],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::net::Ipv4Addr;

    #[test]
    fn the_certificate_stays_from_run_to_run_and_the_key_does_not() {
        let dir = tempfile::tempdir().expect("a folder");
        let store = dir.path().join("s.sqlite");
        let home = Some(Ipv4Addr::LOCALHOST.into());
        let first = Phone::new(&store, home).expect("a door").pairing;
        let second = Phone::new(&store, home).expect("a door").pairing;
        assert_eq!(first.fingerprint, second.fingerprint);
        assert_ne!(first.key, second.key);
        assert_eq!(first.fingerprint.len(), 32 * 3 - 1);
        let words = first.words().expect("a code");
        assert!(words.contains(&first.link()) && words.contains('█'));
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let file = beside(&store, Ipv4Addr::LOCALHOST.into());
            let about = std::fs::metadata(&file).expect("there");
            assert_eq!(about.permissions().mode() & 0o777, 0o600);
            // One that others could read is one no more
            std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o644))
                .expect("rights");
            let third = Phone::new(&store, home).expect("a door").pairing;
            assert_ne!(third.fingerprint, first.fingerprint);
        }
    }
}
