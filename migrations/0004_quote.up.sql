-- Prices, what the customer said to them, and the papers given away.

CREATE TABLE quote_version (
    id         uuid PRIMARY KEY,
    ticket_id  uuid NOT NULL REFERENCES ticket,
    number     integer NOT NULL CHECK (number > 0),
    currency   text NOT NULL,
    note       text NOT NULL,
    created_at timestamptz NOT NULL,
    created_by uuid NOT NULL REFERENCES person,
    sent_at    timestamptz,
    sent_by    uuid REFERENCES person,
    UNIQUE (ticket_id, number),
    UNIQUE (id, ticket_id),
    CHECK ((sent_at IS NULL) = (sent_by IS NULL))
);
CREATE UNIQUE INDEX quote_draft ON quote_version (ticket_id) WHERE sent_at IS NULL;
CREATE TRIGGER frozen BEFORE UPDATE OR DELETE ON quote_version
    FOR EACH ROW WHEN (OLD.sent_at IS NOT NULL) EXECUTE FUNCTION refuse_change();

CREATE TABLE quote_line (
    id           uuid PRIMARY KEY,
    quote_id     uuid NOT NULL REFERENCES quote_version,
    position     integer NOT NULL,
    kind         text NOT NULL CHECK (kind IN ('part', 'labour', 'fee', 'other')),
    text         text NOT NULL CHECK (text <> ''),
    quantity     numeric(16, 6) NOT NULL,
    unit_price   numeric(16, 6) NOT NULL, -- major units, without tax
    tax_category text NOT NULL,
    tax_rate     numeric(9, 6) NOT NULL,  -- per cent
    UNIQUE (quote_id, position) DEFERRABLE INITIALLY DEFERRED
);

CREATE FUNCTION refuse_frozen_quote() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT 1 FROM quote_version
               WHERE sent_at IS NOT NULL AND id IN (NEW.quote_id, OLD.quote_id)) THEN
        RAISE EXCEPTION 'a sent quote is frozen' USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN COALESCE(NEW, OLD);
END
$$;
CREATE TRIGGER frozen BEFORE INSERT OR UPDATE OR DELETE ON quote_line
    FOR EACH ROW EXECUTE FUNCTION refuse_frozen_quote();

CREATE TABLE consent (
    id          uuid PRIMARY KEY,
    ticket_id   uuid NOT NULL REFERENCES ticket,
    quote_id    uuid,
    about       text NOT NULL CHECK (about IN ('repair', 'scrap')),
    text_shown  text NOT NULL CHECK (text_shown <> ''),
    who         text NOT NULL CHECK (who <> ''),
    answer      text NOT NULL CHECK (answer IN ('yes', 'no', 'new_limit')),
    limit_minor bigint CHECK (limit_minor >= 0),
    currency    text,
    way         text NOT NULL CHECK (way <> ''),
    answered_at timestamptz NOT NULL,
    person_id   uuid NOT NULL REFERENCES person,
    recorded_at timestamptz NOT NULL,
    FOREIGN KEY (quote_id, ticket_id) REFERENCES quote_version (id, ticket_id),
    CHECK ((answer = 'new_limit') = (limit_minor IS NOT NULL)),
    CHECK ((limit_minor IS NULL) = (currency IS NULL))
);
CREATE INDEX consent_by_ticket ON consent (ticket_id, answered_at, id);
CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON consent
    FOR EACH ROW EXECUTE FUNCTION refuse_change();

CREATE TABLE document (
    id         uuid PRIMARY KEY,
    site_id    uuid NOT NULL REFERENCES site,
    ticket_id  uuid NOT NULL REFERENCES ticket,
    kind       text NOT NULL CHECK (kind IN ('slip', 'quote')),
    number     bigint NOT NULL CHECK (number > 0),
    content    json NOT NULL, -- frozen
    person_id  uuid NOT NULL REFERENCES person,
    created_at timestamptz NOT NULL,
    UNIQUE (site_id, kind, number)
);
CREATE INDEX document_by_ticket ON document (ticket_id, created_at, id);
CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON document
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
