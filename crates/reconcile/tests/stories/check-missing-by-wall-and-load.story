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
checks lap-a J2 plate empty but thickness
lap-a {"kind":"sign-off","job":"J2"}
---
check-missing J2 ask - open
J2 says without 1 required check: inner-cut-offset
+++
# Exactly 3/4 in does not. The primer's wait may be told by its two ends.
lap-a {"kind":"job","job":"J3","trailer":"5314","wall":"plate","load":"empty","thickness":"19.05 mm"}
checks lap-a J3 plate empty but primer-wait,thickness
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
+++
# The thickness is measured before an empty trailer is cut; on a loaded one the probes find it.
lap-a {"kind":"job","job":"J5","trailer":"5316","wall":"plate","load":"empty"}
checks lap-a J5 plate empty but thickness
lap-a {"kind":"sign-off","job":"J5"}
lap-a {"kind":"job","job":"J6","trailer":"5317","wall":"plate","load":"loaded"}
checks lap-a J6 plate loaded
lap-a {"kind":"sign-off","job":"J6"}
---
check-missing J5 ask - open
J5 says without 1 required check: thickness
not check-missing J6
+++
# A check of that name and the field of the job are one: the latest of either counts.
lap-a {"kind":"job","job":"J5","thickness":"7/8 in"}
lap-a {"kind":"sign-off","job":"J5","note":"again"}
---
check-missing J5 ask - open
J5 says without 1 required check: inner-cut-offset
+++
lap-a {"kind":"check","job":"J5","check":"thickness","value":"5/8 in"}
lap-a {"kind":"sign-off","job":"J5","note":"measured"}
---
check-missing J5 ask - cleared
+++
# Measured and doubted: nobody knows.
lap-a {"kind":"check","job":"J5","check":"thickness","value":"5/8 in","ok":false}
lap-a {"kind":"sign-off","job":"J5","note":"in doubt"}
---
check-failed J5 stop aware open
J5 says thickness was recorded as not ok
+++
# What somebody else sets without knowing of the sign-off changes nothing that was asked of the signer.
lap-b {"kind":"job","job":"J7","trailer":"5318","wall":"plate","load":"empty","thickness":"1/2 in"}
lap-a saw lap-b
checks lap-a J7 plate empty but thickness
lap-b {"kind":"job","job":"J7","load":"loaded"}
lap-a {"kind":"sign-off","job":"J7"}
---
not check-missing J7
