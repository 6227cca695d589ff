//! A real browser (Debian's Chromium, without a window), driven over the DevTools protocol through
//! a pipe: messages of JSON, each ended by a zero byte.
#![allow(dead_code)]

use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::sync::{Mutex, MutexGuard};
use std::time::{Duration, Instant};

/// Longest that a test waits for anything; the machine may be busy.
const PATIENCE: Duration = Duration::from_secs(40);

pub struct Browser {
    child: Child,
    to: ChildStdin,
    from: Receiver<Value>,
    next: u64,
    pub events: Vec<Value>,
    /// Folder whose files stand in for the program's style and scripts, to look at them before
    /// they are built in.
    assets: Option<std::path::PathBuf>,
    dir: tempfile::TempDir,
}

impl Browser {
    pub fn start() -> Browser {
        let dir = tempfile::tempdir().unwrap();
        // The browser speaks on files 3 and 4; the shell lays them on our pipes.
        let script = format!(
            "exec chromium --headless=new --remote-debugging-pipe --no-sandbox --disable-gpu \
             --disable-dev-shm-usage --no-first-run --no-default-browser-check --disable-sync \
             --disable-extensions --disable-background-networking --disable-component-update \
             --password-store=basic --mute-audio --user-data-dir={} 3<&0 4>&1 1>/dev/null 2>/dev/null",
            dir.path().display()
        );
        let mut child = Command::new("sh")
            .args(["-c", &script])
            .env("HOME", dir.path())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("chromium is installed by make setup");
        let to = child.stdin.take().unwrap();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let (sender, from) = channel();
        std::thread::spawn(move || {
            let mut bytes = Vec::new();
            while out.read_until(0, &mut bytes).is_ok_and(|n| n > 0) {
                bytes.pop();
                if let Ok(v) = serde_json::from_slice(&bytes) {
                    let _ = sender.send(v);
                }
                bytes.clear();
            }
        });
        Browser {
            child,
            to,
            from,
            next: 0,
            events: Vec::new(),
            assets: std::env::var_os("DESK_ASSETS").map(Into::into),
            dir,
        }
    }

    pub fn call(&mut self, session: Option<&str>, method: &str, params: Value) -> Value {
        self.ask(session, method, params)
            .unwrap_or_else(|e| panic!("{method}: {e}"))
    }

    /// As [`Browser::call`], but gives back what the browser says is wrong.
    pub fn ask(
        &mut self,
        session: Option<&str>,
        method: &str,
        params: Value,
    ) -> Result<Value, Value> {
        let id = self.send(session, method, params);
        let until = Instant::now() + PATIENCE;
        loop {
            let v = self.receive(until, method);
            if v["id"] == id {
                return match &v["error"] {
                    Value::Null => Ok(v["result"].clone()),
                    e => Err(e.clone()),
                };
            }
            if v["method"] == "Fetch.requestPaused" {
                self.stand_in(&v);
            }
            self.events.push(v);
        }
    }

    fn send(&mut self, session: Option<&str>, method: &str, params: Value) -> u64 {
        self.next += 1;
        let mut message = json!({ "id": self.next, "method": method, "params": params });
        if let Some(s) = session {
            message["sessionId"] = s.into();
        }
        let mut bytes = message.to_string().into_bytes();
        bytes.push(0);
        self.to.write_all(&bytes).unwrap();
        self.next
    }

    /// Answers a request for a style or a script with the file of that name, if there is one.
    fn stand_in(&mut self, event: &Value) {
        use base64::Engine;
        let asked = &event["params"];
        let name = asked["request"]["url"]
            .as_str()
            .unwrap()
            .rsplit('/')
            .next()
            .unwrap();
        let file = self.assets.as_ref().map(|d| d.join(name));
        let session = event["sessionId"].as_str().map(str::to_owned);
        let (method, params) = match file.and_then(|f| std::fs::read(f).ok()) {
            Some(bytes) => {
                let kind = if name.ends_with(".css") {
                    "text/css"
                } else {
                    "text/javascript"
                };
                let body = base64::engine::general_purpose::STANDARD.encode(bytes);
                (
                    "Fetch.fulfillRequest",
                    json!({ "requestId": asked["requestId"], "responseCode": 200, "body": body,
                            "responseHeaders": [{ "name": "Content-Type", "value": kind }] }),
                )
            }
            None => (
                "Fetch.continueRequest",
                json!({ "requestId": asked["requestId"] }),
            ),
        };
        self.send(session.as_deref(), method, params);
    }

    fn receive(&self, until: Instant, what: &str) -> Value {
        let left = until.saturating_duration_since(Instant::now());
        match self.from.recv_timeout(left) {
            Ok(v) => v,
            Err(RecvTimeoutError::Timeout) => panic!("the browser didn't answer to {what}"),
            Err(RecvTimeoutError::Disconnected) => panic!("the browser ended during {what}"),
        }
    }

    /// A new window of `width` × `height` px.
    pub fn page(&mut self, width: u32, height: u32) -> Page {
        let target = self.call(None, "Target.createTarget", json!({ "url": "about:blank" }));
        let attached = self.call(
            None,
            "Target.attachToTarget",
            json!({ "targetId": target["targetId"], "flatten": true }),
        );
        let session = attached["sessionId"].as_str().unwrap().to_owned();
        let page = Page {
            session,
            target: target["targetId"].as_str().unwrap().to_owned(),
        };
        for domain in ["Page", "Runtime", "DOM", "Log"] {
            page.call(self, &format!("{domain}.enable"), json!({}));
        }
        if self.assets.is_some() {
            let patterns = json!({ "patterns": [{ "urlPattern": "*/assets/*" }] });
            page.call(self, "Fetch.enable", patterns);
        }
        page.size(self, width, height);
        page
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The keys of the desks that were started, by address.
pub fn keys() -> MutexGuard<'static, BTreeMap<String, String>> {
    static KEYS: Mutex<BTreeMap<String, String>> = Mutex::new(BTreeMap::new());
    KEYS.lock().unwrap_or_else(|e| e.into_inner())
}

/// One window.
#[derive(Clone)]
pub struct Page {
    session: String,
    target: String,
}

impl Page {
    pub fn call(&self, b: &mut Browser, method: &str, params: Value) -> Value {
        b.call(Some(&self.session), method, params)
    }

    pub fn size(&self, b: &mut Browser, width: u32, height: u32) {
        self.call(
            b,
            "Emulation.setDeviceMetricsOverride",
            json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false }),
        );
    }

    pub fn scheme(&self, b: &mut Browser, scheme: &str) {
        self.call(
            b,
            "Emulation.setEmulatedMedia",
            json!({ "features": [{ "name": "prefers-color-scheme", "value": scheme }] }),
        );
    }

    pub fn front(&self, b: &mut Browser) {
        self.call(b, "Page.bringToFront", json!({}));
    }

    /// Loads a page and waits until it is there with its scripts.
    pub fn go(&self, b: &mut Browser, url: &str) {
        let known = keys()
            .iter()
            .find(|(address, _)| url.starts_with(*address))
            .map(|(a, k)| (a.clone(), k.clone()));
        if let Some((address, key)) = known {
            let port = address.rsplit(':').next().unwrap();
            self.call(
                b,
                "Network.setCookie",
                json!({ "name": format!("dorso-key-{port}"), "value": key, "url": address, "httpOnly": true, "sameSite": "Strict" }),
            );
        }
        self.call(b, "Page.navigate", json!({ "url": url }));
        self.wait(b, &format!("location.href !== 'about:blank' && document.readyState === 'complete' && location.href.startsWith({})", json!(url.split('#').next())));
    }

    pub fn eval(&self, b: &mut Browser, script: &str) -> Value {
        let r = self.call(
            b,
            "Runtime.evaluate",
            json!({ "expression": script, "awaitPromise": true, "returnByValue": true }),
        );
        assert!(
            r["exceptionDetails"].is_null(),
            "{script}: {}",
            r["exceptionDetails"]
        );
        r["result"]["value"].clone()
    }

    /// Waits until the script gives something true; gives that.
    pub fn wait(&self, b: &mut Browser, script: &str) -> Value {
        let until = Instant::now() + PATIENCE;
        loop {
            // While a page is being left there may be nothing to ask, or nobody to answer.
            let r = b.ask(
                Some(&self.session),
                "Runtime.evaluate",
                json!({ "expression": format!("(() => {{ try {{ return {script}; }} catch {{ return null; }} }})()"), "returnByValue": true }),
            );
            let r = match r {
                Err(e)
                    if e["message"]
                        .as_str()
                        .is_some_and(|m| m.contains("navigated")) =>
                {
                    Value::Null
                }
                r => r.unwrap_or_else(|e| panic!("Runtime.evaluate: {e}")),
            };
            let v = r["result"]["value"].clone();
            if !matches!(v, Value::Null | Value::Bool(false)) && v != "" && v != 0 {
                return v;
            }
            if Instant::now() > until {
                let text = self.eval(b, "location.href + '\\n' + document.body.innerText");
                panic!(
                    "waited in vain for {script} at {}",
                    text.as_str().unwrap_or("")
                );
            }
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Presses one key: a letter, a figure, or a name such as `Enter`, `Tab`, `F2`; with `ctrl+`,
    /// `alt+`, `shift+` before it.
    pub fn press(&self, b: &mut Browser, key: &str) {
        let mut bits = 0;
        let mut name = key;
        for (prefix, bit) in [("alt+", 1), ("ctrl+", 2), ("shift+", 8)] {
            if let Some(rest) = name.strip_prefix(prefix) {
                bits |= bit;
                name = rest;
            }
        }
        let (code, text, number) = match name {
            "Enter" => ("Enter".to_owned(), "\r".to_owned(), 13),
            "Tab" => ("Tab".to_owned(), String::new(), 9),
            "Escape" => ("Escape".to_owned(), String::new(), 27),
            "Space" => ("Space".to_owned(), " ".to_owned(), 32),
            "ArrowLeft" => (name.to_owned(), String::new(), 37),
            "ArrowUp" => (name.to_owned(), String::new(), 38),
            "ArrowRight" => (name.to_owned(), String::new(), 39),
            "ArrowDown" => (name.to_owned(), String::new(), 40),
            f if f.len() > 1 && f.starts_with('F') => (
                name.to_owned(),
                String::new(),
                111 + f[1..].parse::<i32>().unwrap(),
            ),
            c => {
                let up = c.to_uppercase();
                (
                    format!("Key{up}"),
                    c.to_owned(),
                    i32::from(up.as_bytes()[0]),
                )
            }
        };
        let key = if name == "Space" { " " } else { name };
        let mut down = json!({ "type": "keyDown", "key": key, "code": code, "windowsVirtualKeyCode": number, "modifiers": bits });
        if !text.is_empty() && bits & 3 == 0 {
            down["text"] = text.into();
        }
        self.call(b, "Input.dispatchKeyEvent", down);
        self.call(
            b,
            "Input.dispatchKeyEvent",
            json!({ "type": "keyUp", "key": key, "code": code, "windowsVirtualKeyCode": number, "modifiers": bits }),
        );
    }

    /// Presses a key that leads to another page, and waits for that.
    pub fn press_and_load(&self, b: &mut Browser, key: &str) {
        let before = self.eval(b, "performance.timeOrigin");
        self.press(b, key);
        self.wait(
            b,
            &format!("performance.timeOrigin !== {before} && document.readyState === 'complete'"),
        );
    }

    /// Types text into what has the focus.
    pub fn text(&self, b: &mut Browser, text: &str) {
        self.call(b, "Input.insertText", json!({ "text": text }));
    }

    /// Presses Tab until what has the focus fits the selector.
    pub fn tab_to(&self, b: &mut Browser, selector: &str) {
        for _ in 0..150 {
            self.press(b, "Tab");
            let there = format!("document.activeElement.matches({})", json!(selector));
            if self.eval(b, &there) == true {
                return;
            }
        }
        panic!("{selector} can't be reached with Tab");
    }

    /// PNG of the window, or of the whole page.
    pub fn picture(&self, b: &mut Browser, whole: bool) -> Vec<u8> {
        use base64::Engine;
        let shot = self.call(
            b,
            "Page.captureScreenshot",
            json!({ "format": "png", "captureBeyondViewport": whole }),
        );
        base64::engine::general_purpose::STANDARD
            .decode(shot["data"].as_str().unwrap())
            .unwrap()
    }
}
