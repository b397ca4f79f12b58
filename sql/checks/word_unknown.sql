-- A word that no list knows: it stands as written, and as a kind of its own.
-- @severity warning
select vocabulary, word, min(nearest) as nearest, sum(rows) as rows
from intake.unknown_word group by vocabulary, word
