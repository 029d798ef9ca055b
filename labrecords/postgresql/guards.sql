-- Functions of the guards (guards.py installs them after every migration). Those that act with the owner's rights look
-- names up in fixed places only, never in a caller's schema.

-- The trigger library lets a session name triggers to be skipped; here none ever is.
CREATE OR REPLACE FUNCTION _pgtrigger_should_ignore(trigger_name name) RETURNS boolean LANGUAGE plpgsql IMMUTABLE AS
$$ BEGIN RETURN false; END $$;

CREATE OR REPLACE FUNCTION labrecords_stamp_entry() RETURNS trigger LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    NEW.pgh_created_at := clock_timestamp();
    RETURN NEW;
END $$;

CREATE OR REPLACE FUNCTION labrecords_stamp_row() RETURNS trigger LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    IF TG_OP = 'INSERT' THEN
        NEW.created_at := clock_timestamp();
    ELSIF (NEW.id, NEW.created_at, NEW.created_by_id) IS DISTINCT FROM (OLD.id, OLD.created_at, OLD.created_by_id) THEN
        RAISE EXCEPTION 'who entered a record and when, and its number, never change';
    END IF;
    RETURN NEW;
END $$;

CREATE OR REPLACE FUNCTION labrecords_stamp_log() RETURNS trigger LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    NEW.at := clock_timestamp();
    RETURN NEW;
END $$;

CREATE OR REPLACE FUNCTION labrecords_keep_context() RETURNS trigger LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    RAISE EXCEPTION 'who and why of a change are never rewritten';
END $$;

CREATE OR REPLACE FUNCTION labrecords_append(source text, event jsonb, kept_apart text[], role text) RETURNS void
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp SET timezone = 'UTC' SET extra_float_digits = 1
SET bytea_output = 'hex' SET datestyle = 'ISO, MDY' SET intervalstyle = 'postgres' AS $$
DECLARE
    number bigint; before bytea; said jsonb; entry text; digests jsonb;
BEGIN
    -- One at a time, until this transaction has ended: it is ending now, so nobody waits long. Not an advisory lock,
    -- which anybody could take and keep: this one asks for more than the working role may do with the table, and lets
    -- readers and pg_dump through.
    LOCK TABLE labrecords_link IN EXCLUSIVE MODE;
    SELECT seq, hash INTO number, before FROM labrecords_link ORDER BY seq DESC LIMIT 1;
    SELECT metadata INTO said FROM pghistory_context WHERE id = (event ->> 'pgh_context_id')::uuid;
    IF kept_apart <> '{}' THEN
        EXECUTE format(
            'SELECT jsonb_object_agg(key, encode(sha256(convert_to(value::text, ''UTF8'')), ''hex'')) '
            'FROM %I live, jsonb_each(to_jsonb(live)) WHERE live.id = $1 AND key = ANY ($2)', source)
        INTO digests USING (event ->> 'pgh_obj_id')::bigint, kept_apart;
    END IF;
    entry := jsonb_strip_nulls(jsonb_build_object('digests', digests)) || jsonb_build_object(
        'seq', coalesce(number, 0) + 1, 'source', source, 'role', role,
        'who', said ->> 'who', 'why', said ->> 'why', 'event', event);
    INSERT INTO labrecords_link (seq, source, event, entry, hash) VALUES (
        coalesce(number, 0) + 1, source, (event ->> 'pgh_id')::bigint, entry,
        sha256(coalesce(before, decode(repeat('00', 32), 'hex')) || sha256(convert_to(entry, 'UTF8'))));
END $$;

CREATE OR REPLACE FUNCTION labrecords_chain() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = pg_catalog, public, pg_temp SET timezone = 'UTC' SET extra_float_digits = 1
SET bytea_output = 'hex' SET datestyle = 'ISO, MDY' SET intervalstyle = 'postgres' AS $$
BEGIN
    PERFORM labrecords_append(TG_ARGV[0], to_jsonb(NEW), TG_ARGV[1]::text[], session_user::text);
    RETURN NULL;
END $$;
