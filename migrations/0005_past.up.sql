-- What earlier boards turned out to be, and what the owner counts danger and a
-- lifted leg as.

-- all boards of a family
CREATE INDEX board_by_family ON board (family_id) WHERE family_id IS NOT NULL;
-- a shop's tickets, newest first
CREATE INDEX ticket_newest ON ticket (site_id, taken_in_at DESC, id DESC) WHERE voided_at IS NULL;
-- did it come back?
CREATE INDEX ticket_by_earlier ON ticket (comeback_of) WHERE comeback_of IS NOT NULL;

-- Minutes that the next check to make is counted as costing more. Terms are only
-- ever added; those from before this file count with what was assumed until then.
ALTER TABLE setting
    ADD COLUMN danger_minutes numeric(9, 6) NOT NULL DEFAULT 5 CHECK (danger_minutes BETWEEN 0 AND 60),
    ADD COLUMN lifted_minutes numeric(9, 6) NOT NULL DEFAULT 2 CHECK (lifted_minutes BETWEEN 0 AND 60);
ALTER TABLE setting
    ALTER COLUMN danger_minutes DROP DEFAULT,
    ALTER COLUMN lifted_minutes DROP DEFAULT;
