# One character from a camera in the stock list.
depot {"kind":"stock","camera":"LK-C-0412","fleet":"Larkspur Freight"}
depot {"kind":"stock","camera":"LK-C-0413","fleet":"Larkspur Freight"}
depot {"kind":"stock","tracker":"LK-C-0421","fleet":"Larkspur Freight"}
lap-a {"kind":"job","job":"J1","trailer":"5312","camera":"LK-C-O412","by":"mara"}
---
code-suspect LK-C-O412 ask unaware open jobs=J1 facts=1,4
LK-C-O412 says is not in the stock list, but LK-C-0412 is
nothing else
+++
depot saw lap-a
depot {"kind":"ruling","finding":"@code-suspect:code:LK-C-O412","ruling":"accepted","why":"label is printed so","by":"ines"}
---
code-suspect LK-C-O412 ask unaware settled
+++
lap-a {"kind":"link","job":"J1","camera":"LK-C-O412","tracker":"T1","by":"mara"}
---
code-suspect LK-C-O412 ask unaware open jobs=J1 facts=1,4,6
+++
# The field is set right, and the link taken off.
lap-a {"kind":"job","job":"J1","camera":"LK-C-0412"}
lap-a {"kind":"unlink","camera":"LK-C-O412","tracker":"T1"}
---
code-suspect LK-C-O412 ask unaware cleared facts=1,4,6
nothing else
+++
# Swapped neighbours are one edit; two edits are noise; another class of part is another list.
lap-a {"kind":"scan","job":"J2","what":"camera","code":"LK-C-0431"}
lap-a {"kind":"scan","job":"J3","what":"camera","code":"LK-C-4021"}
lap-a {"kind":"scan","job":"J4","what":"camera","code":"KL-C-0412"}
lap-a {"kind":"scan","job":"J5","what":"tracker","code":"LK-C-0412"}
---
not code-suspect LK-C-4021
code-suspect KL-C-0412 ask unaware open facts=1,11
code-suspect LK-C-0431 ask unaware open facts=2,9
# As a tracker LK-C-0412 resembles LK-C-0421, the swapped neighbour.
code-suspect LK-C-0412 ask unaware open facts=3,12
+++
# Scanned again, rightly. Whoever did had not seen the list, so nobody ever saw the doubt.
lap-a {"kind":"scan","job":"J4","what":"camera","code":"LK-C-0412"}
---
not code-suspect KL-C-0412
+++
# The depot had seen the code in use and puts it into the list.
depot saw lap-a
depot {"kind":"stock","camera":"LK-C-0431","fleet":"Larkspur Freight"}
---
code-suspect LK-C-0431 ask unaware cleared facts=2,9
+++
# A link that carries no job: the job that names the tracker is the one that must not be relied on unseen.
lap-b {"kind":"job","job":"J6","trailer":"5320","tracker":"U-7"}
lap-b {"kind":"link","camera":"LK-C-O413","tracker":"U-7"}
lap-b saw depot
---
code-suspect LK-C-O413 ask unaware open jobs=J6 facts=2,16
+++
# An earlier scan of another code corrects nothing.
depot {"kind":"stock","tracker":"ZZ-900","fleet":"Larkspur Freight"}
lap-c {"kind":"scan","job":"J8","what":"tracker","code":"ZZ-900"}
lap-c {"kind":"scan","job":"J8","what":"tracker","code":"ZZ-90O"}
---
code-suspect ZZ-90O ask unaware open facts=17,19
