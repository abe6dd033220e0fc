//! Everyone who looks on, told what happens.

use std::sync::Mutex;

use serde_json::Value;
use tokio::sync::mpsc;

/// A named message.
#[derive(Clone, Debug)]
pub struct Said {
    /// Its name: `state`, `better`, `progress` or `done`.
    pub name: &'static str,
    /// What it says.
    pub data: String,
}

/// Most who may look on at once: a few tabs and their reconnections.
const MOST: usize = 32;

/// Messages a listener may be behind before it is cut off; its page then asks anew.
const BEHIND: usize = 256;

/// Those who look on.
#[derive(Debug, Default)]
pub struct Hub {
    listeners: Mutex<Vec<mpsc::Sender<Said>>>,
}

impl Hub {
    /// A new listener; `None` when there are too many.
    pub fn listen(&self) -> Option<mpsc::Receiver<Said>> {
        let mut all = self.listeners.lock().ok()?;
        all.retain(|l| !l.is_closed());
        if all.len() >= MOST {
            return None;
        }
        let (send, receive) = mpsc::channel(BEHIND);
        all.push(send);
        Some(receive)
    }

    /// True while somebody looks on.
    pub fn is_heard(&self) -> bool {
        self.listeners.lock().is_ok_and(|all| all.iter().any(|l| !l.is_closed()))
    }

    /// Tells everyone. Never waits: who cannot keep up is cut off.
    pub fn say(&self, name: &'static str, data: &Value) {
        let said = Said { name, data: data.to_string() };
        if let Ok(mut all) = self.listeners.lock() {
            all.retain(|l| l.try_send(said.clone()).is_ok());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_listener_that_sleeps_is_cut_off_and_the_others_hear_on() {
        let hub = Hub::default();
        let (mut sleeper, mut awake) = (hub.listen().unwrap(), hub.listen().unwrap());
        for k in 0..=BEHIND {
            hub.say("progress", &Value::from(k));
            assert_eq!(awake.try_recv().unwrap().data, k.to_string());
        }
        hub.say("done", &Value::from("x"));
        assert_eq!(awake.try_recv().unwrap().name, "done");
        let heard = std::iter::from_fn(|| sleeper.try_recv().ok()).count();
        assert_eq!(heard, BEHIND);
    }

    #[test]
    fn listeners_are_limited_until_some_go() {
        let hub = Hub::default();
        let mut all: Vec<_> = (0..MOST).map(|_| hub.listen().unwrap()).collect();
        assert!(hub.listen().is_none());
        all.pop();
        assert!(hub.listen().is_some());
    }
}
