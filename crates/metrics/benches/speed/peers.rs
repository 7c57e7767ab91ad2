//! The other libraries: a Python program that does one step when told its name, and answers with
//! the processor time that it took.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

use serde_json::{Value, json};

/// The running program.
pub struct Peers {
    child: Child,
    asks: ChildStdin,
    answers: BufReader<ChildStdout>,
}

impl Peers {
    /// Starts it and hands it the pixels.
    pub fn start(python: &Path, given: &Value) -> Result<Self, String> {
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/speed/peers.py");
        let mut child = Command::new(python)
            .arg(script)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .map_err(|e| format!("{}: {e}", python.display()))?;
        let asks = child.stdin.take().ok_or("no way to ask")?;
        let answers = BufReader::new(child.stdout.take().ok_or("no way to hear")?);
        let mut peers = Self {
            child,
            asks,
            answers,
        };
        let versions = peers.ask(given)?;
        eprintln!("Beside: {versions}");
        Ok(peers)
    }

    /// Processor seconds of one step in one library.
    ///
    /// # Panics
    /// Where the program has ended.
    pub fn seconds(&mut self, library: &str, step: &str) -> f64 {
        let answer = self.ask(&json!({ "library": library, "step": step }));
        answer
            .and_then(|a| a["seconds"].as_f64().ok_or(format!("said {a}")))
            .expect("the other libraries answer")
    }

    /// How many pieces a library counts in the mask.
    ///
    /// # Panics
    /// Where the program has ended.
    pub fn pieces(&mut self, library: &str) -> usize {
        let answer = self.ask(&json!({ "library": library, "step": "label" }));
        let pieces = answer.ok().and_then(|a| a["pieces"].as_u64());
        pieces.expect("the other libraries count") as usize
    }

    fn ask(&mut self, what: &Value) -> Result<Value, String> {
        writeln!(self.asks, "{what}").map_err(|e| e.to_string())?;
        self.asks.flush().map_err(|e| e.to_string())?;
        let mut line = String::new();
        self.answers
            .read_line(&mut line)
            .map_err(|e| e.to_string())?;
        serde_json::from_str(&line).map_err(|_| format!("the other libraries said: {line}"))
    }
}

impl Drop for Peers {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
