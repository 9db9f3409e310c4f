/* paths.c - what lies already where the settings put something.
 *
 * The daemon takes over a socket that a killed one has left, and puts a damaged ledger
 * aside. A slip in a path must not let it do that to a file of another kind. What is not
 * there yet is fine, and on another machine nothing is. */
#include "paths.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

static bool is_one_file(const char *a, const char *b)
{
    struct stat one, other;
    return a[0] && b[0] && stat(a, &one) == 0 && stat(b, &other) == 0 &&
           one.st_dev == other.st_dev && one.st_ino == other.st_ino;
}

static const struct node *node_of(const struct node *root, const char *section, const char *key)
{
    const struct node *map = node_child(root, section);
    return map && map->kind == NODE_MAP ? node_child(map, key) : NULL;
}

static void check_socket(const struct reader *reader, const struct node *node, const char *path)
{
    struct stat found;
    if (lstat(path, &found) == 0 && !S_ISSOCK(found.st_mode))
        wrong_at(reader, node,
                 "control_socket: \"%s\" is there and is not a socket: it would be in the way; "
                 "name another path",
                 QUOTED(path));
}

static void check_ledger(const struct reader *reader, const struct node *node,
                         const struct settings *settings)
{
    const char *path = settings->ledger.path;
    const struct mqtt_settings *mqtt = &settings->mqtt;
    const char *const others[] = {reader->file, mqtt->password_file, mqtt->ca_file,
                                  mqtt->certificate_file, mqtt->key_file};
    struct stat found;
    if (stat(path, &found) == 0 && !S_ISREG(found.st_mode))
        wrong_at(reader, node, "path: \"%s\" is %s; the ledger is a file, such as %s", QUOTED(path),
                 S_ISDIR(found.st_mode) ? "a folder" : "not a file", "/var/lib/sluice/ledger.db");
    for (size_t k = 0; k < sizeof(others) / sizeof(others[0]); k++)
        if (is_one_file(path, others[k])) {
            wrong_at(reader, node,
                     "path: \"%s\" is a file that the settings use already: the ledger needs one "
                     "of its own",
                     QUOTED(path));
            return;
        }
}

void paths_check(const struct reader *reader, const struct node *root,
                 const struct settings *settings)
{
    const struct node *socket = node_of(root, "site", "control_socket");
    const struct node *ledger = node_of(root, "storage", "path");
    if (socket && settings->control_socket[0])
        check_socket(reader, socket, settings->control_socket);
    if (ledger && settings->ledger.path[0])
        check_ledger(reader, ledger, settings);
}

/* ---- what others can read ---------------------------------------------------------------------
 *
 * A password or a private key that others than the daemon can read is a notice, not an error:
 * without the broker for the sake of a mode, a house would be worse off. Root's group and
 * the daemon's own are not others. */

/* Who can, or NULL. */
static const char *who_can_read(const char *path, gid_t ours)
{
    struct stat found;
    if (!strchr(path, '/') || stat(path, &found) != 0)
        return NULL; /* a credential of the service manager; or what connecting will tell */
    if (found.st_mode & S_IRWXO)
        return "everyone on this machine";
    if ((found.st_mode & S_IRWXG) && found.st_gid != 0 && found.st_gid != ours)
        return "a group that is not sluice's";
    return NULL;
}

bool settings_secret_open(const struct settings *settings, gid_t ours, struct text *text)
{
    const char *const files[] = {settings->mqtt.password_file, settings->mqtt.key_file};
    bool open = false;
    for (size_t k = 0; k < sizeof(files) / sizeof(files[0]); k++) {
        const char *who = who_can_read(files[k], ours);
        if (!who)
            continue;
        text_add(text, "%s%s can be read by %s: chgrp sluice and chmod 640 fix that",
                 open ? "; " : "", files[k], who);
        open = true;
    }
    return open;
}
