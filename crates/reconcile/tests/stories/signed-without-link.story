# Signed off on a laptop that knew of no link.
lap-a {"kind":"job","job":"J1","trailer":"5312","tracker":"T1","camera":"C1"}
lap-b saw lap-a
lap-b {"kind":"sign-off","job":"J1","by":"jonas"}
---
signed-without-link J1 stop - open jobs=J1 facts=2
not signed-before-live
J1 says no link of it was ever recorded
+++
# The link is recorded elsewhere, unseen by the sign-off: it joins the finding.
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
---
signed-without-link J1 stop unaware open facts=2
+++
lap-b saw lap-a
lap-b {"kind":"ruling","finding":"@signed-without-link:job:J1","ruling":"corrected","why":"link came from the other laptop","by":"jonas"}
---
signed-without-link J1 stop unaware settled
+++
# A later sign-off that had seen the link puts it right for good.
lap-b {"kind":"sign-off","job":"J1","by":"jonas","note":"again, with the link"}
---
signed-without-link J1 stop unaware cleared facts=2
