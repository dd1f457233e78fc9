# A ruling settles that a job was signed without a proof: the trailer is believed by ruling, and no more.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"empty","by":"mara"}
pair lap-a J1 C1 T1
checks lap-a J1 plate empty
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
lap-a {"kind":"ruling","finding":"@signed-without-proof:job:J1","ruling":"accepted","why":"no network at this yard","by":"ida"}
---
signed-without-proof J1 stop - settled
5312 relied by-ruling
+++
# The proof is brought and the job signed again.
proof lap-a J1 one
lap-a {"kind":"sign-off","job":"J1","note":"again","by":"mara"}
---
5312 relied yes
