/* backup.c - `sluice backup FILE`: all that a fresh board needs to go on as this one, in one
 * file; also while the daemon runs. */
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <grp.h>
#include <pwd.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "backup_file.h"
#include "handover.h"
#include "ledger/copy.h"
#include "sluice/options.h"
#include "sluice/setup/read_settings.h"
#include "sluice/whole_file.h"

const char backup_help[] =
    "  FILE is a tar archive: settings and the maps that they name, the ledger\n"
    "  (counters, learning, history), people's orders, the settings last accepted,\n"
    "  what is kept of the broker, and the SHA-256 of each. Only you can read it\n"
    "  (mode 0600).\n"
    "    --with-secrets    also the broker's password and private key\n"
    "    --settings FILE   /etc/sluice/sluice.yaml\n"
    "    --maps DIR        the folder of the meter maps; default: meters, beside the\n"
    "                      settings\n"
    "    --state DIR       the daemon's state directory; default: the ledger's folder\n";

struct backup {
    struct board board;
    const struct settings *settings;
    const char *file;
    bool with_secrets;
    struct archive archive;
    void *own[ARCHIVE_PARTS_MAX]; /* bytes of parts that are to be freed */
    struct backup_manifest manifest;
    char remark[1024]; /* what is not in it */
    struct text remarks;
};

/* ---- one part ----------------------------------------------------------------------------- */

static void name_owner(struct part *part, const struct stat *found)
{
    const struct passwd *user = getpwuid(found->st_uid);
    const struct group *group = getgrgid(found->st_gid);
    struct text to_user = text_in(part->user, sizeof(part->user));
    struct text to_group = text_in(part->group, sizeof(part->group));
    text_add(&to_user, "%s", user ? user->pw_name : "");
    text_add(&to_group, "%s", group ? group->gr_name : "");
}

static struct part *add_part(struct backup *backup, const char *name, const void *bytes,
                             size_t size)
{
    if (backup->archive.count == ARCHIVE_PARTS_MAX)
        return NULL;
    struct part *part = &backup->archive.part[backup->archive.count++];
    struct text text = text_in(part->name, sizeof(part->name));
    text_add(&text, "%s", name);
    part->bytes = bytes;
    part->size = size;
    part->mode = 0640;
    part->modified_s = backup->manifest.made_s;
    return text.full ? NULL : part;
}

static void describe_part(struct part *part, const struct stat *found)
{
    part->mode = found->st_mode & 0777;
    part->modified_s = found->st_mtim.tv_sec;
    name_owner(part, found);
}

/* NULL: errno says why. */
static char *read_whole(const char *path, struct stat *found)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (fd < 0)
        return NULL;
    char *bytes = NULL;
    errno = EINVAL;
    if (fstat(fd, found) == 0 && S_ISREG(found->st_mode))
        bytes = malloc((size_t)found->st_size + 1);
    size_t used = 0;
    ssize_t got = 1;
    while (bytes && got > 0 && used < (size_t)found->st_size) {
        got = read(fd, bytes + used, (size_t)found->st_size - used);
        used += got > 0 ? (size_t)got : 0;
    }
    int error = got < 0 ? errno : EIO;
    if (bytes && used < (size_t)found->st_size) {
        free(bytes);
        bytes = NULL;
        errno = error;
    }
    close(fd);
    return bytes;
}

enum found { THERE, NOT_THERE, UNREADABLE };

static enum found add_file(struct backup *backup, const char *name, const char *path)
{
    struct stat found;
    char *bytes = read_whole(path, &found);
    if (!bytes)
        return errno == ENOENT || errno == ENOTDIR ? NOT_THERE : UNREADABLE;
    struct part *part = add_part(backup, name, bytes, (size_t)found.st_size);
    if (!part) {
        free(bytes);
        errno = EFBIG;
        return UNREADABLE;
    }
    backup->own[backup->archive.count - 1] = bytes;
    describe_part(part, &found);
    return THERE;
}

static enum status complain_unreadable(const char *path)
{
    return complain(STATUS_NOT_THERE, "\"%s\" cannot be read: %m; nothing was written", path);
}

static enum status add_if_there(struct backup *backup, const char *name, const char *path)
{
    return add_file(backup, name, path) == UNREADABLE ? complain_unreadable(path) : STATUS_DONE;
}

/* ---- settings and their maps ---------------------------------------------------------------- */

/* The bytes that were checked, whatever becomes of the file meanwhile. */
static void add_source(struct backup *backup, const char *name, const char *path,
                       const struct settings_source *source)
{
    struct stat found;
    struct part *part = archive_find(&backup->archive, name)
                            ? NULL
                            : add_part(backup, name, source->bytes, source->size);
    if (part && stat(path, &found) == 0)
        describe_part(part, &found);
}

static void add_settings(struct backup *backup)
{
    const struct settings *settings = backup->settings;
    add_source(backup, "settings/sluice.yaml", backup->board.settings_path, &settings->source);
    for (uint8_t k = 0; k < settings->meter_count; k++) {
        const struct meter_settings *meter = &settings->meters[k];
        char name[ARCHIVE_NAME_MAX], path[BACKUP_PATH_MAX + 64];
        if (!meter->map_source.bytes)
            continue;
        snprintf(name, sizeof(name), "settings/meters/%s.yaml", meter->map_name);
        snprintf(path, sizeof(path), "%s/%s.yaml", backup->board.maps, meter->map_name);
        add_source(backup, name, path, &meter->map_source);
    }
}

/* ---- what the daemon keeps ------------------------------------------------------------------ */

static enum status add_copy(struct backup *backup, const char *copy)
{
    const char *ledger = backup->settings->ledger.path;
    struct trouble trouble;
    struct stat found;
    if (!ledger_copy(ledger, copy, &backup->manifest.saved, &trouble))
        return complain(STATUS_NOT_THERE, "the ledger \"%s\" cannot be copied: %s", ledger,
                        trouble.text);
    enum found there = add_file(backup, "state/ledger.db", copy);
    struct part *part = &backup->archive.part[backup->archive.count - 1];
    if (there == THERE && stat(ledger, &found) == 0)
        describe_part(part, &found);
    return there == THERE ? STATUS_DONE : complain_unreadable(copy);
}

static enum status add_ledger(struct backup *backup)
{
    char folder[BACKUP_PATH_MAX], copy[BACKUP_PATH_MAX + 8];
    struct text text = text_in(folder, sizeof(folder));
    struct stat found;
    if (stat(backup->settings->ledger.path, &found) != 0 && errno == ENOENT) {
        text_add(&backup->remarks, "  counters and learning: there is no ledger at %s\n",
                 backup->settings->ledger.path);
        return STATUS_DONE;
    }
    text_add(&text, "%s.XXXXXX", backup->file);
    if (text.full)
        return complain(STATUS_USAGE, "\"%.60s...\" is too long for a file's name", backup->file);
    if (!mkdtemp(folder))
        return complain(STATUS_NOT_THERE, "\"%s\" cannot be made: %m", folder);
    snprintf(copy, sizeof(copy), "%s/ledger", folder);
    enum status status = add_copy(backup, copy);
    unlink(copy);
    rmdir(folder);
    return status;
}

static enum status add_accepted_maps(struct backup *backup, const char *folder)
{
    char maps[BACKUP_PATH_MAX + 32], name[ARCHIVE_NAME_MAX + 256], path[2 * BACKUP_PATH_MAX];
    snprintf(maps, sizeof(maps), "%s/meters", folder);
    DIR *there = opendir(maps);
    enum status status = STATUS_DONE;
    for (const struct dirent *entry; there && status == STATUS_DONE && (entry = readdir(there));) {
        snprintf(name, sizeof(name), "state/accepted/meters/%s", entry->d_name);
        snprintf(path, sizeof(path), "%s/%s", maps, entry->d_name);
        if (backup_map_name(name, "state/accepted/meters/"))
            status = add_if_there(backup, name, path);
    }
    if (there)
        closedir(there);
    return status;
}

/* `accepted.old` is there while `accepted` changes places: daemon/accepted.c. */
static enum status add_accepted(struct backup *backup)
{
    static const char *const folders[] = {"accepted", "accepted.old"};
    for (size_t k = 0; k < 2; k++) {
        char folder[BACKUP_PATH_MAX + 16], path[BACKUP_PATH_MAX + 32];
        snprintf(folder, sizeof(folder), "%s/%s", backup->board.state, folders[k]);
        snprintf(path, sizeof(path), "%s/sluice.yaml", folder);
        enum found found = add_file(backup, "state/accepted/sluice.yaml", path);
        if (found == UNREADABLE)
            return complain_unreadable(path);
        if (found == THERE)
            return add_accepted_maps(backup, folder);
    }
    return STATUS_DONE;
}

static enum status add_state(struct backup *backup)
{
    static const char *const files[] = {"state/orders", "state/broker"};
    enum status status = add_ledger(backup);
    for (size_t k = 0; k < 2 && status == STATUS_DONE; k++) {
        char path[BACKUP_PATH_MAX];
        if (backup_place(files[k], &backup->board, backup->settings, path))
            status = add_if_there(backup, files[k], path);
    }
    return status == STATUS_DONE ? add_accepted(backup) : status;
}

/* ---- what the broker wants ------------------------------------------------------------------ */

static enum status add_broker_file(struct backup *backup, const struct broker_file *file)
{
    const char *path = broker_file_path(file, &backup->settings->mqtt);
    bool wanted = !file->secret || backup->with_secrets;
    if (!path[0])
        return STATUS_DONE;
    enum found found = wanted ? add_file(backup, file->part, path) : NOT_THERE;
    if (found != THERE && wanted && file->secret)
        return complain_unreadable(path);
    if (found != THERE)
        text_add(&backup->remarks, "  %s: %s (%s)\n", file->what, path,
                 wanted ? "cannot be read" : "a secret; --with-secrets takes it in");
    return STATUS_DONE;
}

static enum status add_broker_files(struct backup *backup)
{
    enum status status = STATUS_DONE;
    for (size_t k = 0; k < 4 && status == STATUS_DONE; k++)
        status = add_broker_file(backup, &broker_files[k]);
    return status;
}

/* ---- all ------------------------------------------------------------------------------------ */

static void write_archive(const void *context, FILE *to)
{
    archive_write(context, to);
}

/* The manifest was given its place before what it tells was known. */
static enum status write_backup(struct backup *backup)
{
    static char manifest[BACKUP_MANIFEST_MAX], sums[BACKUP_SUMS_MAX];
    struct text text = text_in(manifest, sizeof(manifest)), of_sums = text_in(sums, sizeof(sums));
    backup_write_manifest(&backup->manifest, &text);
    backup->archive.part[0].bytes = (const unsigned char *)manifest;
    backup->archive.part[0].size = text.used;
    backup_write_sums(&backup->archive, &of_sums);
    if (of_sums.full || text.full || !add_part(backup, "SHA256SUMS", sums, of_sums.used))
        return complain(STATUS_NOT_THERE, "too many files for a backup");
    return whole_file(backup->file, write_archive, &backup->archive);
}

static enum status gather_and_write(struct backup *backup)
{
    add_part(backup, "MANIFEST", "", 0);
    add_settings(backup);
    enum status status = add_state(backup);
    if (status == STATUS_DONE)
        status = add_broker_files(backup);
    return status == STATUS_DONE ? write_backup(backup) : status;
}

static void tell(const struct backup *backup)
{
    char saved[40] = "";
    struct text text = text_in(saved, sizeof(saved));
    backup_line(&backup->archive, "saved", &text);
    printf("Backup of %s: %s\n", backup->settings->site_name, backup->file);
    if (saved[0])
        printf("  counters, learning and orders as the daemon saved them at %s\n", saved);
    if (backup->remark[0])
        printf("Not in it:\n%s", backup->remark);
    if (backup->with_secrets)
        puts("It holds secrets, and only you can read it (mode 0600). Keep it as you keep keys.");
}

enum status backup_main(struct invocation *at, int argc, char *argv[])
{
    static struct backup backup;
    const char *settings = SETTINGS_DEFAULT, *maps = NULL, *state = NULL;
    const struct option_row rows[] = {{"--settings", &settings, NULL, "a settings file"},
                                      {"--maps", &maps, NULL, "the folder of the meter maps"},
                                      {"--state", &state, NULL, "the daemon's state directory"},
                                      {"--with-secrets", NULL, &backup.with_secrets, NULL},
                                      {0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 1)
        return complain_usage(at, "backup");
    umask(077);
    enum status status = whole_file_may(argv[1]);
    struct settings *read =
        status == STATUS_DONE ? read_settings(settings, maps, NULL, &status) : NULL;
    if (!read)
        return status;
    backup.settings = read;
    backup.file = argv[1];
    backup.remarks = text_in(backup.remark, sizeof(backup.remark));
    backup.manifest = (struct backup_manifest){.program = SLUICE_VERSION,
                                               .site = read->site_name,
                                               .made_s = time(NULL),
                                               .with_secrets = backup.with_secrets};
    status = board_place(&backup.board, settings, maps, state, read)
                 ? gather_and_write(&backup)
                 : complain(STATUS_USAGE, "a folder's name is too long");
    if (status == STATUS_DONE)
        tell(&backup);
    for (int k = 0; k < ARCHIVE_PARTS_MAX; k++)
        free(backup.own[k]);
    settings_free(read);
    return status;
}
