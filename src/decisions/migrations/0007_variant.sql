-- The journal may name the cleaned picture by which a mark is read (act "variant"), which earlier
-- versions don't know: they refuse a store of this version instead of stumbling over it.
SELECT 1;
