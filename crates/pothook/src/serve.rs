//! The screens at a local web address: this machine only, with a secret in the address.

mod assets;
mod guard;
mod routes;

use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;

use app::App;
use app::units::Problem;

use crate::args::Serve;
use crate::failure::Failure;

/// What every request may need.
#[derive(Clone)]
pub(crate) struct Site {
    pub app: App,
    pub door: Arc<guard::Door>,
}

pub(crate) async fn run(app: App, wanted: Serve) -> Result<(), Failure> {
    let address = SocketAddr::from((Ipv4Addr::LOCALHOST, wanted.port));
    let taken = |error: std::io::Error| {
        Problem::new(
            "port-taken",
            format!("The address {address} cannot be used ({error})."),
            "Choose another --port, or 0 to let the system choose.",
        )
    };
    let listener = tokio::net::TcpListener::bind(address)
        .await
        .map_err(taken)?;
    let port = listener.local_addr().map_err(taken)?.port();
    let door = Arc::new(guard::Door::new(port)?);
    println!("Open http://127.0.0.1:{port}/#s={}", door.secret());
    println!("Whoever has this address sees what this device holds. Ctrl-C ends it.");
    let company = tokio::spawn(app.clone().keep_company());
    let router = routes::router(Site { app, door });
    let served = axum::serve(listener, router)
        .with_graceful_shutdown(async {
            // Open event streams would hold a graceful end back for ever.
            let _ = tokio::signal::ctrl_c().await;
            std::process::exit(0);
        })
        .await;
    company.abort();
    served.map_err(|error| taken(error).into())
}
