//! Who may ask, how much and how often; and the headers that every answer carries.
//!
//! * `Host` must be the address served, so that no other site's name leads here (DNS rebinding).
//! * A look must come from the page itself or be typed by the person (`Sec-Fetch-Site`, Fetch
//!   Metadata, W3C working draft); a change must name this page as its `Origin` (RFC 6454) and carry
//!   the token of this run of the desk.
//! * The key must be known before anything is shown: others at work on this machine reach the address too.
//! * Bodies, their time, the rate of each caller who knows the key and the number of requests at work are bounded.

use super::caller::Caller;
use super::key::{Link, same};
use super::phone::Pairing;
use super::web::{Ask, Fields, Reply};
use super::{Desk, page, routes};
use crate::limits::{BODY_SECONDS, DROPPED_SECONDS, FORM_BYTES, PHOTOGRAPH_BYTES};
use crate::signs;
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::{ConnectInfo, Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, Response, StatusCode, header};
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use tokio::sync::Semaphore;
use tokio::time::timeout;

/// What a page may do: load its own files and pictures, send to itself, and nothing else
/// (Content Security Policy Level 3, W3C).
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
     connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

const HTML: &str = "text/html; charset=utf-8";
const PLAIN: &str = "text/plain; charset=utf-8";

/// Requests at work at one time.
const AT_WORK: usize = 64;
/// Requests a second in the long run, and at once.
const A_SECOND: f64 = 200.0;
const AT_ONCE: f64 = 600.0;
/// Photographs that are taken in at one time: each is held in memory until it is whole.
const DROPPED_AT_ONCE: usize = 2;
/// Callers whose requests are counted each for itself.
const CALLERS: usize = 1_000;

/// How many requests there were, and are. Only those that know the key count.
#[derive(Debug)]
pub struct Rate {
    left: Mutex<HashMap<IpAddr, (f64, Instant)>>,
    at_work: AtomicUsize,
    dropped: Semaphore,
}

impl Default for Rate {
    fn default() -> Self {
        Rate {
            left: Mutex::default(),
            at_work: AtomicUsize::new(0),
            dropped: Semaphore::new(DROPPED_AT_ONCE),
        }
    }
}

impl Rate {
    /// Takes one request from those allowed to a caller; false: none is left just now.
    fn take(&self, caller: IpAddr) -> bool {
        let mut all = self.left.lock().unwrap_or_else(|e| e.into_inner());
        if all.len() >= CALLERS {
            all.retain(|_, (_, at)| at.elapsed().as_secs_f64() * A_SECOND < AT_ONCE);
        }
        let now = Instant::now();
        let left = all.entry(caller).or_insert((AT_ONCE, now));
        let grown = left.0 + now.duration_since(left.1).as_secs_f64() * A_SECOND;
        *left = (grown.min(AT_ONCE), now);
        if left.0 < 1.0 {
            return false;
        }
        left.0 -= 1.0;
        true
    }
}

/// Counts a request at work until it is dropped.
struct AtWork(Arc<Desk>);

impl AtWork {
    fn enter(desk: &Arc<Desk>) -> Option<AtWork> {
        let before = desk.rate.at_work.fetch_add(1, Ordering::SeqCst);
        let entered = AtWork(desk.clone());
        (before < AT_WORK).then_some(entered)
    }
}

impl Drop for AtWork {
    fn drop(&mut self) {
        self.0.rate.at_work.fetch_sub(1, Ordering::SeqCst);
    }
}

/// The way by which callers come to the desk.
#[derive(Clone)]
pub(super) struct Way {
    desk: Arc<Desk>,
    /// For a phone, by TLS, with the key of the visit; else from this machine or by the address it was told.
    pairing: Option<Arc<Pairing>>,
}

impl Way {
    fn answers(&self, host: &str) -> bool {
        match &self.pairing {
            Some(p) => p.host == host,
            None => self.desk.hosts.iter().any(|h| h == host),
        }
    }

    fn scheme(&self) -> &'static str {
        match self.pairing {
            Some(_) => "https://",
            None => "http://",
        }
    }

    fn key(&self) -> String {
        match &self.pairing {
            Some(p) => p.key.clone(),
            None => self.desk.keys.key(),
        }
    }

    /// Name of the cookie that holds the key, and what stands behind its value.
    fn cookie(&self) -> (String, &'static str) {
        let port = self.desk.port;
        match self.pairing {
            Some(_) => (format!("dorso-phone-{port}"), "; Secure"),
            None => (format!("dorso-key-{port}"), ""),
        }
    }

    /// Where a caller who was let in begins.
    fn first(&self) -> &'static str {
        match self.pairing {
            Some(_) => "/take",
            None => "/",
        }
    }

    /// Whether that path lets a caller in.
    fn follow(&self, path: &str) -> Option<Link> {
        match &self.pairing {
            None => Some(self.desk.keys.follow(path.strip_prefix("/open/")?)),
            Some(p) => Some(match same(path.strip_prefix("/pair/")?, &p.key) {
                true => Link::In,
                false => Link::Nowhere,
            }),
        }
    }
}

/// Every request goes one way.
///
/// * `pairing`: for phones.
pub(super) fn router(desk: Arc<Desk>, pairing: Option<Arc<Pairing>>) -> Router {
    Router::new()
        .fallback(handle)
        .with_state(Way { desk, pairing })
}

async fn handle(
    State(way): State<Way>,
    ConnectInfo(caller): ConnectInfo<Caller>,
    request: Request,
) -> Response<Body> {
    let by_person = text(request.headers(), "accept").is_some_and(|a| a.contains("text/html"));
    let answered = match admit(&way, &caller, &request) {
        Ok(()) => work(way.desk.clone(), request).await,
        Err(turned) => Err(turned),
    };
    let mut response = match answered {
        Ok(response) => response,
        Err(Turned::Away(status, why)) if by_person => {
            build(status.as_u16(), HTML, plain_text(page::bare(why)))
        }
        Err(Turned::Away(status, why)) => build(status.as_u16(), PLAIN, why),
        Err(Turned::To(place, cookie)) => {
            let mut r = see(place);
            if let Ok(value) = HeaderValue::from_str(&cookie) {
                r.headers_mut().insert(header::SET_COOKIE, value);
            }
            r
        }
    };
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "same-origin"),
        (header::X_FRAME_OPTIONS, "DENY"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    for (name, value) in [
        ("cross-origin-opener-policy", "same-origin"),
        ("cross-origin-resource-policy", "same-origin"),
        (
            "permissions-policy",
            "camera=(), microphone=(), geolocation=()",
        ),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers
        .entry(header::CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("no-store"));
    response
}

enum Turned {
    Away(StatusCode, &'static str),
    To(&'static str, String),
}

fn text<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers.get(name).and_then(|v| v.to_str().ok())
}

fn admit(way: &Way, caller: &Caller, request: &Request) -> Result<(), Turned> {
    use super::words as w;
    let desk = &way.desk;
    let away = |status, why| Err(Turned::Away(status, why));
    let headers = request.headers();
    let host = text(headers, "host").unwrap_or("");
    if !way.answers(host) {
        return away(StatusCode::MISDIRECTED_REQUEST, w::WRONG_HOST);
    }
    let typed_or_own = |v: &str| v == "same-origin" || v == "none";
    if !text(headers, "sec-fetch-site").is_none_or(typed_or_own) {
        return away(StatusCode::FORBIDDEN, w::OTHER_SITE);
    }
    match *request.method() {
        Method::GET | Method::HEAD => {}
        Method::POST => {
            let own = text(headers, "origin").and_then(|o| o.strip_prefix(way.scheme()));
            if own != Some(host) {
                return away(StatusCode::FORBIDDEN, w::OTHER_SITE);
            }
        }
        _ => return away(StatusCode::METHOD_NOT_ALLOWED, w::OTHER_METHOD),
    }
    let key = way.key();
    let (name, secure) = way.cookie();
    let mut cookies = text(headers, "cookie").unwrap_or("").split(';');
    let known = cookies.any(|c| {
        let cookie = c.trim().split_once('=');
        cookie.is_some_and(|(n, v)| n == name && same(v, &key))
    });
    if known {
        caller.is_known();
        return match desk.rate.take(caller.ip) {
            true => Ok(()),
            false => away(StatusCode::TOO_MANY_REQUESTS, w::TOO_OFTEN),
        };
    }
    let enter = |place| {
        let cookie = format!("{name}={key}; HttpOnly; SameSite=Strict; Path=/{secure}");
        Err(Turned::To(place, cookie))
    };
    let query = Fields::parse(request.uri().query().unwrap_or("").as_bytes());
    if same(query.get("key"), &key) {
        return enter("/");
    }
    let path = Some(request.uri().path()).filter(|_| request.method() == Method::GET);
    match path.and_then(|p| way.follow(p)) {
        // A phone is there to take photographs
        Some(Link::In) => enter(way.first()),
        Some(Link::Twice) => {
            eprintln!("dorso: {} {}", w::LINK_TWICE_TOLD, desk.address());
            away(StatusCode::FORBIDDEN, w::LINK_TWICE)
        }
        Some(Link::Nowhere) => away(StatusCode::FORBIDDEN, w::LINK_USED),
        None => away(StatusCode::FORBIDDEN, w::NO_KEY),
    }
}

async fn work(desk: Arc<Desk>, request: Request) -> Result<Response<Body>, Turned> {
    use super::words as w;
    let away = |status, why| Err(Turned::Away(status, why));
    let (parts, body) = request.into_parts();
    let path: Vec<String> = parts
        .uri
        .path()
        .split('/')
        .filter(|p| !p.is_empty())
        .map(str::to_owned)
        .collect();
    let change = parts.method == Method::POST;
    let dropped = change && path.first().is_some_and(|p| p == "dropped");
    let (most, seconds) = match dropped {
        true => (PHOTOGRAPH_BYTES, DROPPED_SECONDS),
        false => (FORM_BYTES, BODY_SECONDS),
    };
    let _one_of_few = match dropped {
        true => desk.rate.dropped.acquire().await.ok(),
        false => None,
    };
    let most = usize::try_from(most.most()).unwrap_or(usize::MAX);
    let whole = timeout(Duration::from_secs(seconds.most()), to_bytes(body, most)).await;
    let bytes = match whole {
        Ok(Ok(bytes)) => bytes,
        Ok(Err(_)) => return away(StatusCode::PAYLOAD_TOO_LARGE, w::TOO_LARGE),
        Err(_) => return away(StatusCode::REQUEST_TIMEOUT, w::TOO_SLOW),
    };
    // Counted when it is there whole: one that never arrives keeps nobody else from being answered
    let Some(at_work) = AtWork::enter(&desk) else {
        return away(StatusCode::SERVICE_UNAVAILABLE, w::TOO_OFTEN);
    };
    let is_form = text(&parts.headers, "content-type")
        .is_some_and(|t| t.starts_with("application/x-www-form-urlencoded"));
    let form = if is_form {
        Fields::parse(&bytes)
    } else {
        Fields::default()
    };
    if change {
        let token = text(&parts.headers, "x-dorso-token").unwrap_or(form.get("token"));
        if !same(token, &desk.token) {
            return away(StatusCode::FORBIDDEN, w::OLD_TOKEN);
        }
    }
    let ask = Ask {
        change,
        path,
        query: Fields::parse(parts.uri.query().unwrap_or("").as_bytes()),
        form,
        body: bytes.into(),
        by_script: text(&parts.headers, "accept").is_some_and(|a| a.contains("application/json")),
    };
    let worker = desk.clone();
    let answered = tokio::task::spawn_blocking(move || {
        let _at_work = at_work;
        routes::answer(&worker, &ask)
    })
    .await;
    match answered {
        Ok(reply) => Ok(response(reply)),
        Err(_) => away(StatusCode::INTERNAL_SERVER_ERROR, w::BROKE),
    }
}

fn build(status: u16, kind: &str, body: impl Into<Body>) -> Response<Body> {
    let mut r = Response::new(body.into());
    *r.status_mut() = StatusCode::from_u16(status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    if let Ok(kind) = HeaderValue::from_str(kind) {
        r.headers_mut().insert(header::CONTENT_TYPE, kind);
    }
    r
}

fn see(place: &str) -> Response<Body> {
    let mut r = build(303, PLAIN, String::new());
    if let Ok(place) = HeaderValue::from_str(place) {
        r.headers_mut().insert(header::LOCATION, place);
    }
    r
}

/// A page on which nothing steers what shows it.
fn plain_text(page: maud::Markup) -> String {
    signs::page(&page.into_string())
}

fn response(reply: Reply) -> Response<Body> {
    const JSON: &str = "application/json";
    match reply {
        Reply::Page(page) => build(200, HTML, plain_text(page)),
        Reply::Refused(status, page) => build(status, HTML, plain_text(page)),
        Reply::See(place) => see(&place),
        Reply::Json(value) => build(200, JSON, signs::json(&value.to_string()).into_owned()),
        Reply::JsonRefused(status, value) => {
            build(status, JSON, signs::json(&value.to_string()).into_owned())
        }
        Reply::Bytes { kind, bytes, stays } => {
            let mut r = build(200, kind, bytes.as_ref().clone());
            if stays {
                let value = HeaderValue::from_static("private, max-age=31536000, immutable");
                r.headers_mut().insert(header::CACHE_CONTROL, value);
            }
            r
        }
        Reply::Download { kind, name, bytes } => {
            let mut r = build(200, kind, bytes);
            let value = format!("attachment; filename=\"{name}\"");
            if let Ok(value) = HeaderValue::from_str(&value) {
                r.headers_mut().insert(header::CONTENT_DISPOSITION, value);
            }
            r
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn requests_are_refused_once_the_store_of_them_is_used_up() {
        let rate = Rate::default();
        let (one, other) = ([127, 0, 0, 1].into(), [127, 0, 0, 2].into());
        let granted = (0..2 * AT_ONCE as usize).filter(|_| rate.take(one)).count();
        assert!((AT_ONCE as usize..2 * AT_ONCE as usize).contains(&granted));
        assert!(rate.take(other), "each caller has its own");
    }
}
