/* backup_file.h - what a backup is: an archive of named parts, which begins with its manifest
 * and ends with the SHA-256 of each.
 *
 *   MANIFEST                        "sluice backup, format 1", and what it was made of
 *   settings/sluice.yaml            the settings file, and the maps that it names
 *   settings/meters/NAME.yaml
 *   state/ledger.db, orders, broker what the daemon keeps
 *   state/accepted/...              the settings that it last accepted, and their maps
 *   broker/ca, broker/certificate   what TLS needs and may be seen
 *   secrets/password, secrets/key   only where they were asked for
 *   SHA256SUMS                      as sha256sum(1) writes and checks it
 *
 * The sums tell a damaged backup, and one in which something was changed by hand. They are no
 * seal: whoever changes a part can write its sum anew. */
#ifndef SLUICE_TOOLS_BACKUP_FILE_H
#define SLUICE_TOOLS_BACKUP_FILE_H

#include "archive.h"
#include "core/text.h"
#include "settings/settings.h"

enum { BACKUP_PATH_MAX = 512, BACKUP_MANIFEST_MAX = 1024, BACKUP_SUMS_MAX = 16 * 1024 };

/* A board's own places. */
struct board {
    const char *settings_path;
    char maps[BACKUP_PATH_MAX];
    char state[BACKUP_PATH_MAX]; /* where `accepted` is */
};

/* `maps` and `state` may be NULL: beside the settings, and beside the ledger. */
bool board_place(struct board *board, const char *settings_path, const char *maps,
                 const char *state, const struct settings *settings);

/* The files that the broker's section may name. */
struct broker_file {
    const char *part, *what;
    bool secret;
    size_t offset; /* in struct mqtt_settings, a char[128] */
};
extern const struct broker_file broker_files[4];
const char *broker_file_path(const struct broker_file *file, const struct mqtt_settings *mqtt);

/* Where a part goes that has one place only; false: it is none of these. */
bool backup_place(const char *part, const struct board *board, const struct settings *settings,
                  char path[static BACKUP_PATH_MAX]);
/* "NAME.yaml" of a map's part below `folder`; NULL: it is none, or no name for a map. */
const char *backup_map_name(const char *part, const char *folder);

struct backup_manifest {
    const char *program, *site;
    int64_t made_s;
    struct wall saved; /* the ledger's last snapshot; 0: none */
    bool with_secrets;
};
void backup_write_manifest(const struct backup_manifest *manifest, struct text *text);
void backup_write_sums(const struct archive *archive, struct text *text);

/* Whether it is a backup that this program can read, whole and as it was made. */
bool backup_check(const struct archive *archive, const char *program, struct trouble *trouble);
/* A line of the manifest, "made" or "program"; "": it has none. */
void backup_line(const struct archive *archive, const char *key, struct text *text);

#endif
