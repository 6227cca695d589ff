//! The desk: a page of this machine on which a person settles doubtful readings.
//!
//! In: a store, lists, the photographs that the store names. Out: HTML, small scripts, pictures;
//! and entries in the journal. Like `cli` it stands above the stages and sets several of them
//! beside each other; no stage knows it.
//!
//! A request passes `guard` (who may ask at all), becomes a plain `web::Ask`, is answered by one
//! function of `&Desk` on a thread of its own (`routes::answer`) and goes back as a `web::Reply`.
//! All words that a person sees stand in `words`.

use crate::dating::clues::Clues;
use crate::decisions::{self, Author, MarkId, Picture, SqliteStore};
use crate::error::{Error, Kind, Result};
use crate::gazetteer::{Place, Stamp};
use crate::proposals::{Index, kept_beside};
use crate::readings::Recognisers;
use crate::run;
use crate::run::together::Album;
use std::net::{IpAddr, SocketAddr, TcpListener};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, OnceLock};

mod ask;
mod assets;
mod batch;
mod bring;
mod caller;
mod chart;
mod compare;
mod copies;
mod deciding;
mod draw;
mod entry;
mod find;
mod guard;
mod item;
mod key;
mod lights;
mod mailed;
mod monogram;
mod note;
mod overview;
mod page;
mod phone;
mod photos;
mod picture;
mod places;
mod proposed;
mod question;
mod reading;
mod routes;
mod second;
mod seen;
mod settle;
mod sheet;
mod sightings;
mod stated;
mod take;
mod told;
mod typing;
mod visit;
mod warm;
mod web;
mod words;

use phone::Phone;

/// What the desk is to work on.
#[derive(Debug, Clone)]
pub struct Options {
    /// The store's file; made if it isn't there.
    pub store: PathBuf,
    /// The lists.
    pub lists: Place,
    /// Who decides, unless the page says otherwise.
    pub by: String,
    /// File with the word that a browser has to know before it sees anything; else one is kept beside the store.
    pub key_file: Option<PathBuf>,
    /// Whether phones are let in too, and at which address of this machine; else at the one from which it reaches others.
    pub phone: Option<Option<IpAddr>>,
}

/// The desk's state, shared by all requests.
pub struct Desk {
    store: Mutex<SqliteStore>,
    file: PathBuf,
    place: Place,
    by: String,
    /// Word that each change has to carry.
    token: String,
    keys: key::Keys,
    port: u16,
    /// Values of `Host` that are answered; the first is the address served.
    hosts: Vec<String>,
    /// How phones are let in, where they are.
    pairing: Option<Arc<phone::Pairing>>,
    photos: photos::Photos,
    /// Photographs as they are laid on each other.
    album: Mutex<Album>,
    /// The lists, with the state of their files when they were read.
    lists: Mutex<Option<(Vec<Stamp>, Arc<Index>)>>,
    recognisers: OnceLock<Recognisers>,
    batch: batch::Batch,
    taking: take::Taking,
    warm: warm::Warm,
    rate: guard::Rate,
}

impl std::fmt::Debug for Desk {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Desk")
            .field("store", &self.file)
            .finish_non_exhaustive()
    }
}

/// A word of 128 random bits.
///
/// # Errors
/// `Kind::Usage` if the machine gives no random numbers.
pub fn random_word() -> Result<String> {
    let mut bytes = [0u8; 16];
    getrandom::fill(&mut bytes).map_err(|e| {
        Error::new(
            Kind::Usage,
            "desk",
            format!("this machine gives no random numbers ({e})"),
            "start it again",
        )
    })?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

/// Serves the desk at `listener` until the process ends.
///
/// * `ready`: told, before the first request is answered, the address with the key and a link that one browser
///   can be opened with, which may stand in the list of processes; and what a phone needs, if it is let in.
///
/// # Errors
/// `Kind::Store` if the store can't be opened, `Kind::Output` if the address can't be served.
pub fn serve(
    options: Options,
    listener: TcpListener,
    ready: impl FnOnce(&str, &str, Option<&str>) -> Result<()>,
) -> Result<()> {
    let failed = |e: std::io::Error| {
        Error::new(
            Kind::Output,
            "desk",
            format!("the page can't be served ({e})"),
            "give another --port, or close what uses this one",
        )
    };
    let address = listener.local_addr().map_err(failed)?;
    listener.set_nonblocking(true).map_err(failed)?;
    let phone = options.phone.map(|ip| Phone::new(&options.store, ip));
    let phone = phone.transpose()?;
    let pairing = phone.as_ref().map(|p| Arc::new(p.pairing.clone()));
    let desk = Desk::open(options, address, pairing.clone())?;
    let link = format!("http://{}/open/{}", desk.hosts[0], desk.keys.link()?);
    let told = pairing.as_ref().map(|p| p.words()).transpose()?;
    ready(&desk.address(), &link, told.as_deref())?;
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(failed)?;
    runtime.block_on(async move {
        let listener = tokio::net::TcpListener::from_std(listener).map_err(failed)?;
        if let Some(phone) = phone {
            let callers = guard::router(desk.clone(), pairing);
            let callers = callers.into_make_service_with_connect_info::<caller::Caller>();
            phone.listener.set_nonblocking(true).map_err(failed)?;
            let listener = tokio::net::TcpListener::from_std(phone.listener).map_err(failed)?;
            let door = caller::SafeDoor::new(listener, phone.tls).map_err(failed)?;
            tokio::spawn(async move { axum::serve(door, callers).await });
        }
        let callers = guard::router(desk, None);
        let callers = callers.into_make_service_with_connect_info::<caller::Caller>();
        axum::serve(caller::Door(listener), callers)
            .await
            .map_err(failed)
    })
}

impl Desk {
    /// Opens the store; lists and recognisers are made ready when they are first needed.
    ///
    /// # Errors
    /// As [`serve`].
    fn open(
        options: Options,
        address: SocketAddr,
        pairing: Option<Arc<phone::Pairing>>,
    ) -> Result<Arc<Desk>> {
        let port = address.port();
        let mut hosts = vec![address.to_string()];
        if address.ip().is_loopback() {
            hosts.extend([
                format!("localhost:{port}"),
                format!("127.0.0.1:{port}"),
                format!("[::1]:{port}"),
            ]);
        }
        let store = SqliteStore::open(&options.store)?;
        let batch = batch::Batch::resumed(&store)?;
        let keys = key::Keys::of(&options.store, options.key_file.as_deref())?;
        let desk = Arc::new(Desk {
            store: Mutex::new(store),
            file: options.store,
            place: options.lists,
            by: options.by,
            token: random_word()?,
            keys,
            port,
            hosts,
            pairing,
            photos: photos::Photos::default(),
            album: Mutex::default(),
            lists: Mutex::new(None),
            recognisers: OnceLock::new(),
            batch,
            taking: take::Taking::default(),
            warm: warm::Warm::default(),
            rate: guard::Rate::default(),
        });
        batch::start_threads(&desk);
        Ok(desk)
    }

    /// How phones are let in, where they are.
    fn pairing(&self) -> Option<&phone::Pairing> {
        self.pairing.as_deref()
    }

    /// The address with the key.
    fn address(&self) -> String {
        format!("http://{}/?key={}", self.hosts[0], self.keys.key())
    }

    /// The store. A request that broke off while it held the store left it whole: each change is
    /// one transaction.
    fn store(&self) -> MutexGuard<'_, SqliteStore> {
        self.store.lock().unwrap_or_else(|e| e.into_inner())
    }

    fn album(&self) -> MutexGuard<'_, Album> {
        self.album.lock().unwrap_or_else(|e| e.into_inner())
    }

    /// The lists, read when they are first needed or have changed, by a row from here or by anybody else.
    fn lists(&self) -> Result<Arc<Index>> {
        let mut held = self.lists.lock().unwrap_or_else(|e| e.into_inner());
        let stamps = self.place.stamps();
        if let Some((before, index)) = &*held
            && *before == stamps
        {
            return Ok(index.clone());
        }
        let folder = kept_beside(&self.file);
        let (lists, ..) = self.place.load_kept(&folder)?;
        let (index, _) = Index::kept(lists, &folder);
        let learnt = crate::readings::learnt::beside(&self.file);
        let index = Arc::new(index.taught(crate::readings::learnt::held(&learnt)?));
        *held = Some((stamps, index.clone()));
        Ok(index)
    }

    /// The lists if they are read already: a page never waits for them.
    fn lists_at_hand(&self) -> Option<Arc<Index>> {
        let held = self.lists.try_lock().ok()?;
        held.as_ref().map(|(_, index)| index.clone())
    }

    fn recognisers(&self) -> Result<&Recognisers> {
        if let Some(ready) = self.recognisers.get() {
            return Ok(ready);
        }
        let taught = crate::readings::learnt::beside(&self.file);
        let made = crate::readings::voices(Some(&taught))?;
        // Another request may have been quicker; its set is as good.
        Ok(self.recognisers.get_or_init(|| made))
    }

    /// Dating clues, the user's own among them; faults of those are told by the commands.
    fn clues(&self) -> Result<Clues> {
        let folder = match &self.place {
            Place::Folder(f) => Some(f.as_path()),
            Place::Starter => None,
        };
        Ok(Clues::with_own(folder)?.0)
    }

    /// Reads the marks of a photograph's picture from all their sightings, after somebody said which
    /// are one.
    fn read_together(&self, photograph: i64) -> Result<()> {
        let picture = self.picture_of(photograph)?.id;
        let index = self.lists()?;
        run::together::read_together(&mut self.store(), picture, &index)
    }

    /// Holds the dates of a photograph's picture against each other, after something changed.
    fn hold_dates(&self, photograph: i64) -> Result<()> {
        self.hold_picture(self.picture_of(photograph)?.id)
    }

    /// The same, by the number of the picture.
    fn hold_picture(&self, picture: i64) -> Result<()> {
        let clues = self.clues()?;
        run::hold_dates(&mut self.store(), &[picture], &clues)?;
        self.warm.changed();
        Ok(())
    }

    fn author(&self, why: &str) -> Author {
        Author {
            by: self.by.clone(),
            at: decisions::now(),
            why: why.trim().chars().take(2000).collect(),
        }
    }

    /// The picture of that number.
    fn picture(&self, id: i64) -> Result<Picture> {
        self.store().picture(id)?.ok_or_else(|| {
            Error::new(
                Kind::Store,
                format!("picture {id}"),
                "the store has no such picture",
                "go back to the list of pictures",
            )
        })
    }

    /// The picture that a mark's photograph belongs to.
    fn picture_of(&self, photograph: i64) -> Result<Picture> {
        self.store().picture_of(photograph)?.ok_or_else(|| {
            Error::new(
                Kind::Store,
                format!("photograph {photograph}"),
                "the store has no such photograph",
                "go back to the list of pictures",
            )
        })
    }
}

/// Today's date here, ISO.
fn today() -> String {
    jiff::Zoned::now().date().to_string()
}

/// A mark's number with its check letter, from an address or a form.
fn mark_id(text: &str) -> Result<MarkId> {
    MarkId::parse(text).ok_or_else(|| {
        Error::new(
            Kind::Usage,
            format!("\"{text}\""),
            "this is no mark: its number and its letter don't fit together",
            "go back to the list of pictures and choose it there",
        )
    })
}
