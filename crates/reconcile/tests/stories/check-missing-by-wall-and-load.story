# Everything that an empty trailer needs; this one was loaded.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"loaded"}
checks lap-a J1 plate empty
lap-a {"kind":"sign-off","job":"J1"}
---
check-missing J1 ask - open
J1 says freight-at-opening, pilot-hole, first-probe, saw-limited, rivet-drill-limited
+++
# A thick wall asks for the inner cut.
lap-a {"kind":"job","job":"J2","trailer":"5313","wall":"plate","load":"empty","thickness":"7/8 in"}
checks lap-a J2 plate empty
lap-a {"kind":"sign-off","job":"J2"}
---
check-missing J2 ask - open
J2 says without 1 required check: inner-cut-offset
+++
# Exactly 3/4 in does not. The primer's wait may be told by its two ends.
lap-a {"kind":"job","job":"J3","trailer":"5314","wall":"plate","load":"empty","thickness":"19.05 mm"}
checks lap-a J3 plate empty but primer-wait
lap-a {"kind":"check","job":"J3","check":"primed","ok":true,"at":"2026-03-02T10:00:00Z"}
lap-a {"kind":"check","job":"J3","check":"pressed","ok":true,"at":"2026-03-02T10:03:00Z"}
lap-a {"kind":"sign-off","job":"J3"}
---
not check-missing J3
not check-failed J3
+++
# Wall and load were never recorded: nobody can say what was required.
lap-a {"kind":"job","job":"J4","trailer":"5315"}
checks lap-a J4 plate empty
lap-a {"kind":"sign-off","job":"J4"}
---
check-missing J4 ask - open
J4 says wall (not recorded), load (not recorded)
