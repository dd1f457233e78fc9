//! A disk of its own for one test: full, or only to be read.

/// A disk of its own for one test.
pub struct SmallDisk(tempfile::TempDir);

impl SmallDisk {
    /// `None` where mounting is not allowed.
    pub fn mount(size_mib: u32) -> Option<Self> {
        let dir = tempfile::tempdir().unwrap();
        let mut mount = std::process::Command::new("mount");
        mount
            .args(["-t", "tmpfs", "-o", &format!("size={size_mib}m"), "tmpfs"])
            .arg(dir.path());
        let mounted = mount.output().is_ok_and(|output| output.status.success());
        mounted.then_some(Self(dir))
    }

    /// Where it is.
    pub fn path(&self) -> &std::path::Path {
        self.0.path()
    }
}

impl SmallDisk {
    /// Writes until nothing more fits, and returns the file that takes the room.
    pub fn fill(&self) -> std::path::PathBuf {
        let ballast = self.path().join("ballast");
        let mut file = std::fs::File::create(&ballast).unwrap();
        while std::io::Write::write_all(&mut file, &[0; 4096]).is_ok() {}
        ballast
    }

    /// From now on it takes no writes; whether that is allowed.
    pub fn make_read_only(&self) -> bool {
        let mut mount = std::process::Command::new("mount");
        mount.args(["-o", "remount,ro"]).arg(self.path());
        mount.output().is_ok_and(|output| output.status.success())
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        std::process::Command::new("umount")
            .arg("-l")
            .arg(self.0.path())
            .output()
            .ok();
    }
}
