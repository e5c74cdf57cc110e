//! `airwrit serve`: the page on a port of this machine.
//!
//! Always: bound to 127.0.0.1 and nothing else. Whoever sends slowly, reads slowly, or opens many connections, keeps nobody
//! else out.

use super::app::{App, Made};
use super::clock::Clock;
use super::guard::Guard;
use super::hand::Hands;
use super::wire::{Bounded, LetIn, Open, WRITTEN_WITHIN};
use crate::audit::Trust;
use crate::cli::args::serve::Serve;
use crate::cli::{End, Outcome, Outside, Place, could_not};
use crate::tongue::say;
use crate::world::{Random, Storage, StorageError};
use axum::Router;
use axum::extract::State;
use axum::http::{HeaderMap, Uri};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;
use tokio::net::TcpListener;

/// Longest that the head of a request may take to come.
const HEAD_WITHIN: Duration = Duration::from_secs(5);

fn random_word(random: &mut dyn Random) -> Result<String, End> {
    let mut bytes = [0u8; 32];
    random.fill(&mut bytes).map_err(could_not)?;
    Ok(data_encoding::HEXLOWER.encode(&bytes))
}

/// The file that keeps browsers let in over a restart: a flat battery must not cost the screen.
const SESSION: &str = "page";

fn session(place: &Place, outside: &mut Outside<'_>) -> Result<String, End> {
    let folder = place.seal_folder(outside, None)?;
    let mut folder = crate::disk::Folder::make_private(&folder)?;
    let kept = folder.read(SESSION)?.and_then(|b| String::from_utf8(b).ok());
    let good = |s: &String| s.len() == 64 && s.bytes().all(|b| b.is_ascii_hexdigit());
    if let Some(kept) = kept.filter(good) {
        return Ok(kept);
    }
    let fresh = random_word(outside.random)?;
    // Where it cannot be kept, browsers are let in anew after a restart.
    let _ = folder.write(SESSION, fresh.as_bytes()).and_then(|()| folder.flush(SESSION));
    Ok(fresh)
}

/// Whether an entry could be kept: in the last volume, and the key for the one after it beside the seal's.
pub(super) fn can_be_kept(place: &Place) -> Result<(), StorageError> {
    let volumes = crate::record::volumes::names(&crate::disk::Folder::at(&place.register))?;
    if let Some(last) = volumes.last() {
        crate::disk::can_write(&place.register.join(last), true)?;
    }
    let tried = format!("tried-{}", std::process::id());
    place.seal.as_ref().map_or(Ok(()), |seal| crate::disk::can_write(&seal.join(tried), false))
}

/// `airwrit serve`.
pub fn serve(place: &Place, s: &Serve, outside: &mut Outside<'_>) -> Outcome {
    let clock = Arc::new(Clock::of(crate::disk::second));
    let (place, keys, trust, demo) = if s.demo {
        let made = super::demo::stand(&s.into, &clock, outside)?;
        (made.place, made.keys, Some(made.trust), Some(s.into.clone()))
    } else {
        let trust = match &s.trust {
            None => None,
            Some(file) => {
                let bytes = crate::disk::read_file(file)?;
                let text =
                    String::from_utf8(bytes).map_err(|_| could_not(say!("the trust file is not UTF-8")))?;
                Some(Trust::read(&text).map_err(could_not)?)
            }
        };
        (place.clone(), s.keys.clone(), trust, None)
    };
    let session = session(&place, outside)?;
    // Found once: by its log it would be looked for in the whole register each time.
    let place = Place { seal: Some(place.seal_folder(outside, None)?), ..place };
    let entrance = random_word(outside.random)?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_io()
        .enable_time()
        .build()
        .map_err(|e| could_not(say!("the page cannot be opened: {why}", why = e)))?;
    runtime.block_on(async {
        let listener = TcpListener::bind(("127.0.0.1", s.port)).await.map_err(|e| {
            could_not(say!(
                "port {port} of this machine cannot be used: {why}; another one: --port 0",
                port = s.port,
                why = e
            ))
        })?;
        let port = listener.local_addr().map_err(|e| could_not(e.to_string()))?.port();
        let kept_in = place.clone();
        let hands = Hands::start(place, outside.state_folder.clone(), clock.clone());
        let guard = Guard::new(port, session);
        guard.entrance(entrance.clone());
        let app = App::new(Made { hands, guard, keys, trust, demo }).map_err(could_not)?;
        let app = Arc::new(app);
        app.begin().await;
        if s.check {
            let drawn = super::screens::site::show(State(app), Uri::from_static("/")).await;
            if !drawn.status().is_success() && !drawn.status().is_redirection() {
                return Err(could_not(say!(
                    "the first screen cannot be drawn; `airwrit doctor` tells what is missing"
                )));
            }
            writeln!(outside.out, "{}", say!("the page opens here; it was closed again"))?;
            if let Err(StorageError { why }) = can_be_kept(&kept_in) {
                writeln!(
                    outside.err,
                    "{}",
                    say!("nothing can be kept here, only looked at: {why}", why)
                )?;
            }
            return Ok(());
        }
        writeln!(outside.out, "http://127.0.0.1:{port}/enter?k={entrance}")?;
        outside.out.flush()?;
        writeln!(
            outside.err,
            "{}",
            say!(
                "open this address, whole, in a browser on this machine; it lets one browser in, once. No other machine can \
                 reach it. Ctrl-C ends the page; everything answered is kept"
            )
        )?;
        if s.demo {
            writeln!(
                outside.err,
                "{}",
                say!("an invented site: nothing in it is real; every key opens with the passphrase \"demo\"")
            )?;
        }
        let ticking = app.clone();
        tokio::spawn(async move {
            let mut every = tokio::time::interval(Duration::from_secs(5));
            loop {
                every.tick().await;
                ticking.ticked();
            }
        });
        let guarding = app.clone();
        accept(listener, super::router(app), move |headers| guarding.guard.let_in(headers)).await;
        Ok(())
    })
}

/// Takes connections for ever. Until a request on it is of somebody who was let in, a connection is a stranger's.
async fn accept(
    listener: TcpListener,
    router: Router,
    known: impl Fn(&HeaderMap) -> bool + Clone + Send + 'static,
) {
    let mut open = Open::default();
    loop {
        if !open.room() {
            tokio::time::sleep(Duration::from_millis(50)).await;
            continue;
        }
        let Ok((stream, _)) = listener.accept().await else {
            tokio::time::sleep(Duration::from_millis(50)).await;
            continue;
        };
        let let_in = LetIn::default();
        let (known, there) = (known.clone(), let_in.clone());
        let router = TowerToHyperService::new(router.clone());
        let service = hyper::service::service_fn(move |request: hyper::Request<hyper::body::Incoming>| {
            if known(request.headers()) {
                there.store(true, Ordering::Relaxed);
            }
            hyper::service::Service::call(&router, request)
        });
        let task = tokio::spawn(async move {
            let connection = hyper::server::conn::http1::Builder::new()
                .timer(TokioTimer::new())
                .header_read_timeout(HEAD_WITHIN)
                .max_buf_size(32 * 1024)
                .serve_connection(TokioIo::new(Bounded::new(stream, WRITTEN_WITHIN)), service);
            // Whoever hangs up, or sends what is no request, is no fault of ours.
            let _ = connection.await;
        });
        open.add(task.abort_handle(), let_in);
        // It is listened to before the next one is taken: who was let in has said so already.
        tokio::task::yield_now().await;
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::disallowed_methods)]
    use super::super::wire::STRANGERS;
    use super::*;
    use std::io::{Read, Write};
    use std::net::TcpStream;
    use std::time::Instant;

    fn begun() -> u16 {
        let (tell, told) = std::sync::mpsc::channel();
        std::thread::spawn(move || {
            let runtime =
                tokio::runtime::Builder::new_current_thread().enable_io().enable_time().build().unwrap();
            runtime.block_on(async {
                let listener = TcpListener::bind(("127.0.0.1", 0)).await.unwrap();
                tell.send(listener.local_addr().unwrap().port()).unwrap();
                let slowly = || async {
                    tokio::time::sleep(Duration::from_secs(2)).await;
                    "slowly"
                };
                let router = Router::new()
                    .route("/", axum::routing::get(|| async { "here" }))
                    .route("/slowly", axum::routing::get(slowly));
                accept(listener, router, |headers| headers.contains_key("cookie")).await;
            });
        });
        told.recv().unwrap()
    }

    /// Nothing sent, a head begun, a head that comes a byte at a time: each is hung up on, and keeps nobody else waiting.
    #[test]
    fn a_head_that_comes_slowly_is_not_waited_for() {
        let port = begun();
        let connect = || {
            let stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
            stream.set_read_timeout(Some(4 * HEAD_WITHIN)).unwrap();
            stream
        };
        let begun = Instant::now();
        let mut slow: Vec<TcpStream> = (0..STRANGERS / 2).map(|_| connect()).collect();
        for stream in slow.iter_mut().skip(1) {
            stream.write_all(b"GET / HTTP/1.1\r\nHost: ").unwrap();
        }
        let mut dripping = connect();
        std::thread::spawn({
            let mut dripping = dripping.try_clone().unwrap();
            move || {
                while dripping.write_all(b"G").is_ok() {
                    std::thread::sleep(Duration::from_millis(200));
                }
            }
        });
        let mut other = connect();
        other.write_all(b"GET / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n").unwrap();
        let mut came = String::new();
        other.read_to_string(&mut came).unwrap();
        assert!(came.ends_with("here"), "{came}");
        assert!(begun.elapsed() < HEAD_WITHIN, "somebody waited for those who send slowly");
        for stream in slow.iter_mut().chain([&mut dripping]) {
            let mut rest = Vec::new();
            // An end, or a reset where bytes were still on the way: either is a hang-up; waiting for ever is not.
            if let Err(e) = stream.read_to_end(&mut rest) {
                assert_eq!(e.kind(), std::io::ErrorKind::ConnectionReset);
            }
        }
        assert!(begun.elapsed() < 3 * HEAD_WITHIN, "{:?}", begun.elapsed());
    }

    /// However many connect and say nothing, and again when they are hung up on: those who were let in are answered at once,
    /// and an answer that is under way comes.
    #[test]
    fn strangers_take_no_place_from_those_who_were_let_in() {
        let port = begun();
        let connect = || TcpStream::connect(("127.0.0.1", port)).unwrap();
        let ask = |path: &str| {
            let mut stream = connect();
            stream.set_read_timeout(Some(HEAD_WITHIN)).unwrap();
            let head = format!("GET {path} HTTP/1.1\r\nHost: x\r\nCookie: a\r\nConnection: close\r\n\r\n");
            stream.write_all(head.as_bytes()).unwrap();
            stream
        };
        let whole = |mut stream: TcpStream| {
            let mut came = String::new();
            stream.read_to_string(&mut came).unwrap();
            came
        };
        let under_way = ask("/slowly");
        std::thread::sleep(Duration::from_millis(200));
        let mut strangers = Vec::new();
        for _ in 0..10 {
            for _ in 0..STRANGERS / 2 {
                let mut stream = connect();
                stream.write_all(b"GET / HTTP/1.1\r\nHost: ").unwrap();
                strangers.push(stream);
            }
            let begun = Instant::now();
            assert!(whole(ask("/")).ends_with("here"));
            assert!(begun.elapsed() < Duration::from_secs(1), "{:?}", begun.elapsed());
        }
        assert!(whole(under_way).ends_with("slowly"));
    }
}
