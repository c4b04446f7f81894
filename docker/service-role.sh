#!/bin/sh
# Run once by the PostgreSQL image, on a new volume: makes the account that serves. It may read
# and write rows in what the owner creates, and has no right to drop, alter or truncate a table.
set -eu

psql --set=ON_ERROR_STOP=1 --username "$POSTGRES_USER" --dbname "$POSTGRES_DB" \
    --set=owner="$POSTGRES_USER" --set=database="$POSTGRES_DB" --set=password="$SERVICE_PASSWORD" <<'SQL'
CREATE ROLE rindline_service LOGIN PASSWORD :'password';
REVOKE ALL ON DATABASE :"database" FROM PUBLIC;
REVOKE ALL ON SCHEMA public FROM PUBLIC;
GRANT CONNECT ON DATABASE :"database" TO rindline_service;
GRANT USAGE ON SCHEMA public TO rindline_service;
ALTER DEFAULT PRIVILEGES FOR ROLE :"owner" IN SCHEMA public
    GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO rindline_service;
ALTER DEFAULT PRIVILEGES FOR ROLE :"owner" IN SCHEMA public
    GRANT USAGE, SELECT ON SEQUENCES TO rindline_service;
SQL
