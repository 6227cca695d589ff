//! Who may ask, how much and how often; and the headers that every answer carries.
//!
//! * `Host` must be the address served, so that no other site's name leads here (DNS rebinding).
//! * A look must come from the page itself or be typed by the person (`Sec-Fetch-Site`, Fetch
//!   Metadata, W3C working draft); a change must name this page as its `Origin` (RFC 6454) and carry
//!   the token of this run of the desk.
//! * Where others can reach the address, a key must be known before anything is shown.
//! * Bodies, rates and the number of requests at work are bounded.

use super::web::{Ask, Fields, Reply};
use super::{Desk, routes};
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, Response, StatusCode, header};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Instant;

/// What a page may do: load its own files and pictures, send to itself, and nothing else
/// (Content Security Policy Level 3, W3C).
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
     connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Largest body of a form, bytes.
const LARGEST_FORM: usize = 2 << 20;
/// Largest photograph that may be dropped on the page, bytes; larger ones are read from a folder.
const LARGEST_DROPPED: usize = 300 << 20;
/// Requests at work at one time.
const AT_WORK: usize = 64;
/// Requests a second in the long run, and at once.
const A_SECOND: f64 = 200.0;
const AT_ONCE: f64 = 600.0;
/// Name of the cookie that holds the key.
const COOKIE: &str = "dorso-key";

/// How many requests there were, and are.
#[derive(Debug)]
pub struct Rate {
    left: Mutex<(f64, Instant)>,
    at_work: AtomicUsize,
}

impl Default for Rate {
    fn default() -> Self {
        Rate {
            left: Mutex::new((AT_ONCE, Instant::now())),
            at_work: AtomicUsize::new(0),
        }
    }
}

impl Rate {
    /// Takes one request from those allowed; false: none is left just now.
    fn take(&self) -> bool {
        let mut left = self.left.lock().unwrap_or_else(|e| e.into_inner());
        let now = Instant::now();
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

/// Every request goes one way.
pub(super) fn router(desk: Arc<Desk>) -> Router {
    Router::new().fallback(handle).with_state(desk)
}

async fn handle(State(desk): State<Arc<Desk>>, request: Request) -> Response<Body> {
    let mut response = match admit(&desk, &request) {
        Ok(()) => work(desk.clone(), request).await,
        Err(Turned::Away(status, why)) => plain(status, why),
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

fn admit(desk: &Desk, request: &Request) -> Result<(), Turned> {
    use super::words as w;
    let away = |status, why| Err(Turned::Away(status, why));
    if !desk.rate.take() {
        return away(StatusCode::TOO_MANY_REQUESTS, w::TOO_OFTEN);
    }
    let headers = request.headers();
    let host = text(headers, "host").unwrap_or("");
    if !desk.hosts.iter().any(|h| h == host) {
        return away(StatusCode::MISDIRECTED_REQUEST, w::WRONG_HOST);
    }
    let typed_or_own = |v: &str| v == "same-origin" || v == "none";
    if !text(headers, "sec-fetch-site").is_none_or(typed_or_own) {
        return away(StatusCode::FORBIDDEN, w::OTHER_SITE);
    }
    match *request.method() {
        Method::GET | Method::HEAD => {}
        Method::POST => {
            let own = text(headers, "origin").and_then(|o| o.strip_prefix("http://"));
            if own != Some(host) {
                return away(StatusCode::FORBIDDEN, w::OTHER_SITE);
            }
        }
        _ => return away(StatusCode::METHOD_NOT_ALLOWED, w::OTHER_METHOD),
    }
    let Some(key) = &desk.key else { return Ok(()) };
    let cookies = text(headers, "cookie").unwrap_or("");
    let known = cookies.split(';').any(|c| {
        c.trim()
            .split_once('=')
            .is_some_and(|(n, v)| n == COOKIE && same(v, key))
    });
    if known {
        return Ok(());
    }
    let query = Fields::parse(request.uri().query().unwrap_or("").as_bytes());
    if same(query.get("key"), key) {
        let cookie = format!("{COOKIE}={key}; HttpOnly; SameSite=Strict; Path=/");
        return Err(Turned::To("/", cookie));
    }
    away(StatusCode::FORBIDDEN, w::NO_KEY)
}

/// Equality in a time that doesn't tell how far the words agree.
fn same(a: &str, b: &str) -> bool {
    a.len() == b.len() && a.bytes().zip(b.bytes()).fold(0, |d, (x, y)| d | (x ^ y)) == 0
}

async fn work(desk: Arc<Desk>, request: Request) -> Response<Body> {
    use super::words as w;
    let Some(at_work) = AtWork::enter(&desk) else {
        return plain(StatusCode::SERVICE_UNAVAILABLE, w::TOO_OFTEN);
    };
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
    let most = if dropped {
        LARGEST_DROPPED
    } else {
        LARGEST_FORM
    };
    let Ok(bytes) = to_bytes(body, most).await else {
        return plain(StatusCode::PAYLOAD_TOO_LARGE, w::TOO_LARGE);
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
            return plain(StatusCode::FORBIDDEN, w::OLD_TOKEN);
        }
    }
    let ask = Ask {
        change,
        path,
        query: Fields::parse(parts.uri.query().unwrap_or("").as_bytes()),
        form,
        body: bytes.to_vec(),
        by_script: text(&parts.headers, "accept").is_some_and(|a| a.contains("application/json")),
    };
    let answered = tokio::task::spawn_blocking(move || {
        let _at_work = at_work;
        routes::answer(&desk, &ask)
    })
    .await;
    match answered {
        Ok(reply) => response(reply),
        Err(_) => plain(StatusCode::INTERNAL_SERVER_ERROR, w::BROKE),
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

fn plain(status: StatusCode, why: &str) -> Response<Body> {
    build(status.as_u16(), "text/plain; charset=utf-8", why.to_owned())
}

fn see(place: &str) -> Response<Body> {
    let mut r = build(303, "text/plain; charset=utf-8", String::new());
    if let Ok(place) = HeaderValue::from_str(place) {
        r.headers_mut().insert(header::LOCATION, place);
    }
    r
}

fn response(reply: Reply) -> Response<Body> {
    const HTML: &str = "text/html; charset=utf-8";
    const JSON: &str = "application/json";
    match reply {
        Reply::Page(page) => build(200, HTML, page.into_string()),
        Reply::Refused(status, page) => build(status, HTML, page.into_string()),
        Reply::See(place) => see(&place),
        Reply::Json(value) => build(200, JSON, value.to_string()),
        Reply::JsonRefused(status, value) => build(status, JSON, value.to_string()),
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
    fn words_that_differ_anywhere_are_not_the_same() {
        assert!(same("abc", "abc"));
        assert!(!same("abc", "abd") && !same("abc", "ab") && !same("", "a"));
    }

    #[test]
    fn requests_are_refused_once_the_store_of_them_is_used_up() {
        let rate = Rate::default();
        let granted = (0..2 * AT_ONCE as usize).filter(|_| rate.take()).count();
        assert!((AT_ONCE as usize..2 * AT_ONCE as usize).contains(&granted));
    }
}
