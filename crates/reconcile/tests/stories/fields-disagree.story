# Two people set the trailer of one job without knowing of each other.
lap-a {"kind":"job","job":"J1","trailer":"5312","thickness":"3/4 in","by":"mara"}
lap-b saw lap-a
lap-a {"kind":"job","job":"J1","trailer":"5321","yard":"Tolland yard","by":"mara"}
lap-b {"kind":"job","job":"J1","trailer":" 5313 ","yard":"Tolland yard","thickness":"19.05 mm","by":"jonas"}
---
fields-disagree J1 ask unaware open jobs=J1 facts=2,3
J1 says trailer is 5321 by mara
nothing else
+++
depot saw lap-a
depot saw lap-b
depot {"kind":"ruling","finding":"@fields-disagree:job:J1","ruling":"accepted","why":"unit was renumbered"}
---
fields-disagree J1 ask unaware settled
+++
# A third value, unseen by the ruling.
lap-c saw lap-a:1
lap-c {"kind":"job","job":"J1","trailer":"5399","by":"tomas"}
---
fields-disagree J1 ask unaware open facts=2,3,5
+++
depot saw lap-c
depot {"kind":"job","job":"J1","trailer":"5321","by":"ines"}
---
fields-disagree J1 ask unaware cleared facts=2,3,5
