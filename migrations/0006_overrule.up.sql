-- Where somebody at the bench knows better than the analysis: a part that is good
-- whatever the readings say, or a reading that says something else. Only ever
-- added to.

CREATE TABLE overrule (
    id         uuid PRIMARY KEY,
    ticket_id  uuid NOT NULL REFERENCES ticket,
    part       text NOT NULL, -- ruled out as a suspect
    reading_id uuid REFERENCES reading,
    verdict    text NOT NULL CHECK (verdict IN ('', 'bad', 'not_bad')), -- on the reading
    reason     text NOT NULL CHECK (reason <> ''),
    person_id  uuid NOT NULL REFERENCES person,
    taken_at   timestamptz NOT NULL,
    CHECK ((part = '') = (reading_id IS NOT NULL)),
    CHECK ((verdict <> '') = (reading_id IS NOT NULL))
);
CREATE INDEX overrule_by_ticket ON overrule (ticket_id, taken_at, id);

CREATE TABLE overrule_withdrawal (
    overrule_id uuid PRIMARY KEY REFERENCES overrule,
    reason      text NOT NULL CHECK (reason <> ''),
    person_id   uuid NOT NULL REFERENCES person,
    at          timestamptz NOT NULL
);

CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON overrule
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON overrule_withdrawal
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
