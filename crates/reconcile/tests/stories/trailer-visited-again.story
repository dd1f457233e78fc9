# A second visit after the first was signed off, or stood down, is an ordinary second visit.
lap-a {"kind":"job","job":"J1","trailer":"5312"}
lap-a {"kind":"sign-off","job":"J1"}
lap-b saw lap-a
lap-b {"kind":"job","job":"J2","trailer":"5312"}
lap-b {"kind":"stand-down","job":"J2"}
lap-b {"kind":"job","job":"J3","trailer":"5312"}
---
not trailer-opened-twice
+++
# A wrong unit number that was corrected: the job is not on that trailer.
lap-c {"kind":"job","job":"J5","trailer":"5312"}
lap-c {"kind":"job","job":"J5","trailer":"5321"}
---
not trailer-opened-twice
+++
# The second job was opened twice under one name; one opener did not know that the first was signed off.
lap-a {"kind":"job","job":"J6","trailer":"5330"}
lap-b saw lap-a
lap-a {"kind":"sign-off","job":"J6"}
lap-a {"kind":"job","job":"J7","trailer":"5330"}
lap-b {"kind":"job","job":"J7","trailer":"5330"}
---
trailer-opened-twice 5330 ask aware open jobs=J6,J7
+++
# Stood down and then signed off all the same: the job counts, and clashes.
lap-a {"kind":"job","job":"J8","trailer":"5340"}
lap-b {"kind":"job","job":"J9","trailer":"5340"}
lap-a {"kind":"stand-down","job":"J8","why":"no ladder"}
---
not trailer-opened-twice 5340
+++
lap-a {"kind":"sign-off","job":"J8","note":"ladder found"}
---
trailer-opened-twice 5340 ask unaware open jobs=J8,J9
