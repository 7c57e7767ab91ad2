//! What happens on the network: a reason to try again at once.

use iroh::{Endpoint, Watcher};
use iroh_mdns_address_lookup::{DiscoveryEvent, MdnsAddressLookup};
use tokio::sync::broadcast;
use tokio_stream::StreamExt;
use units::DeviceId;

/// News that a listener may leave unheard before it misses the oldest.
pub(super) const UNHEARD: usize = 64;

/// Something that happened on the network.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum News {
    /// This device has other addresses than before.
    Moved,
    /// A device, known or not, has announced itself, or has other addresses than before.
    Appeared(DeviceId),
}

/// Tells the news until the task is dropped. Whether anybody listens makes no difference.
pub(super) fn watch(
    endpoint: &Endpoint,
    mdns: Option<MdnsAddressLookup>,
    news: broadcast::Sender<News>,
) -> impl Future<Output = ()> + Send + use<> {
    let mut own = endpoint.watch_addr();
    async move {
        let mut seen = match &mdns {
            Some(mdns) => Some(mdns.subscribe().await),
            None => None,
        };
        loop {
            let next_seen = async {
                match &mut seen {
                    Some(seen) => seen.next().await,
                    None => None,
                }
            };
            tokio::select! {
                Ok(_) = own.updated() => {
                    let _ = news.send(News::Moved);
                }
                Some(event) = next_seen => {
                    if let DiscoveryEvent::Discovered { endpoint_info, .. } = event {
                        let device = DeviceId(*endpoint_info.endpoint_id.as_bytes());
                        let _ = news.send(News::Appeared(device));
                    }
                }
                else => return,
            }
        }
    }
}
