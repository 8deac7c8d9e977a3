//! Runs the program as a person would, in a folder of its own.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

/// The root of the repository.
pub(crate) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// A folder that is removed when the test ends.
pub(crate) struct Folder {
    path: PathBuf,
}

impl Folder {
    pub(crate) fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("limbledger-{}-{name}", std::process::id()));
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(&path).unwrap();
        Self { path }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.path.join(name)
    }

    pub(crate) fn write(&self, name: &str, text: &str) -> PathBuf {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, text).unwrap();
        path
    }

    /// Names of everything in the folder, sorted.
    pub(crate) fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(&self.path)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.path);
    }
}

/// Runs the program from the repository's root.
pub(crate) fn limbledger<I: AsRef<std::ffi::OsStr>>(
    arguments: impl IntoIterator<Item = I>,
) -> Output {
    Command::new(env!("CARGO_BIN_EXE_limbledger"))
        .args(arguments)
        .current_dir(root())
        .output()
        .unwrap()
}

/// What it said on stderr.
pub(crate) fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// What it printed on stdout.
pub(crate) fn printed(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Paths of all files below a folder, parts divided by `/`, sorted.
pub(crate) fn names_below(folder: &Path) -> Vec<String> {
    let mut names = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let entry = entry.unwrap();
        let name = entry.file_name().to_string_lossy().into_owned();
        if entry.path().is_dir() {
            let below = names_below(&entry.path());
            names.extend(below.into_iter().map(|below| format!("{name}/{below}")));
        } else {
            names.push(name);
        }
    }
    names.sort();
    names
}

/// The run folder of the sample practice, made once for all tests that only read it.
///
/// It stays in the build folder until the next time, when the run replaces it as a whole.
pub(crate) fn sample_run() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("sample-run");
        let output = limbledger([
            "run".as_ref(),
            "pipelines/quarterly.toml".as_ref(),
            "--out".as_ref(),
            out.as_os_str(),
        ]);
        assert_eq!(output.status.code(), Some(0), "{}", said(&output));
        out
    })
}
