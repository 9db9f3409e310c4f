/* test_paths.c - paths in the settings that lead to what is somebody else's, or is secret
 * and open. */
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "../core/suite.h"
#include "rig.h"

static char folder[] = "/tmp/sluice-paths-XXXXXX";
static char name[64]; /* of the file that lies in it */

static void make_folder(void)
{
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(name, sizeof(name), "%s/thing", folder);
}

static void clear_folder(void)
{
    unlink(name);
    rmdir(folder);
}

static void write_thing(const char *text)
{
    FILE *file = fopen(name, "we");
    ck_assert_ptr_nonnull(file);
    fputs(text, file);
    fclose(file);
}

/* The small house with one more line in a section that it has. */
static char *house_with(const char *find, const char *format, const char *path)
{
    char line[256], write[512];
    snprintf(line, sizeof(line), format, path);
    snprintf(write, sizeof(write), "%s%s", find, line);
    return edited(small_house, find, write);
}

static void expect_wrong(const char *find, const char *format, const char *path, const char *says)
{
    struct settings_troubles troubles;
    char *text = house_with(find, format, path);
    ck_assert_ptr_null(load_text(text, &troubles));
    ck_assert_int_eq(troubles.count, 1);
    ck_assert_msg(strstr(troubles.item[0].text, says) != NULL, "%s", troubles.item[0].text);
    ck_assert(strchr(troubles.item[0].place, ':') != NULL);
    settings_troubles_free(&troubles);
    free(text);
}

static void expect_fine(const char *find, const char *format, const char *path)
{
    char *text = house_with(find, format, path);
    settings_free(load_good(text));
    free(text);
}

#define SOCKET "site:\n", "  control_socket: %s\n"
#define STORAGE "mqtt:\n  host: localhost\n", "storage:\n  path: %s\n"

START_TEST(test_a_control_socket_does_not_lie_where_something_else_is)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    make_folder();
    expect_fine(SOCKET, name);
    expect_wrong(SOCKET, folder, "is not a socket");
    write_thing("a letter\n");
    expect_wrong(SOCKET, name, "is not a socket");
    unlink(name);
    snprintf(address.sun_path, sizeof(address.sun_path), "%s", name);
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    ck_assert_int_eq(bind(fd, (struct sockaddr *)&address, sizeof(address)), 0);
    expect_fine(SOCKET, name);
    close(fd);
    clear_folder();
}
END_TEST

START_TEST(test_a_ledger_is_a_file_of_its_own)
{
    make_folder();
    expect_fine(STORAGE, name);
    write_thing("");
    expect_fine(STORAGE, name); /* what it is, is told when it is opened */
    expect_wrong(STORAGE, folder, "is a folder; the ledger is a file");
    expect_wrong(STORAGE, "/dev/null", "is not a file; the ledger is a file");
    expect_wrong(STORAGE, file_of(""), "is a file that the settings use already");
    expect_wrong("mqtt:\n  host: localhost\n",
                 "  user: me\n  password_file: /etc/hostname\nstorage:\n  path: %s\n",
                 "/etc/hostname", "is a file that the settings use already");
    clear_folder();
}
END_TEST

static bool is_open(const char *text, mode_t mode, gid_t ours, char told[static 256])
{
    struct settings *settings = load_good(text);
    struct text out = text_in(told, 256);
    ck_assert_int_eq(chmod(name, mode), 0);
    bool open = settings_secret_open(settings, ours, &out);
    settings_free(settings);
    return open;
}

START_TEST(test_a_secret_that_others_can_read_is_told)
{
    char told[256];
    struct stat found;
    make_folder();
    write_thing("password\n");
    ck_assert_int_eq(stat(name, &found), 0);
    char *text =
        house_with("mqtt:\n  host: localhost\n", "  user: me\n  password_file: %s\n", name);
    ck_assert(!is_open(text, 0600, 4711, told));
    ck_assert(!is_open(text, 0640, found.st_gid, told)); /* the daemon's own group */
    ck_assert(is_open(text, 0644, found.st_gid, told));
    ck_assert_msg(strstr(told, name) && strstr(told, "everyone on this machine"), "%s", told);
    if (found.st_gid != 0 || chown(name, (uid_t)-1, 12345) == 0) {
        ck_assert(is_open(text, 0640, 4711, told));
        ck_assert_msg(strstr(told, "a group that is not sluice's") != NULL, "%s", told);
    }
    unlink(name);
    free(text);
    clear_folder();
}
END_TEST

START_TEST(test_an_open_secret_is_a_notice)
{
    make_folder();
    write_thing("key\n");
    ck_assert_int_eq(chmod(name, 0604), 0);
    char *text = house_with("mqtt:\n  host: localhost\n",
                            "  tls: yes\n  certificate_file: /nowhere\n  key_file: %s\n", name);
    struct settings *settings = load_good(text);
    char *said = described(settings);
    ck_assert_msg(strstr(said, "can be read by everyone") != NULL, "%s", said);
    ck_assert_int_eq(chmod(name, 0600), 0);
    free(said);
    said = described(settings);
    ck_assert_ptr_null(strstr(said, "can be read by"));
    free(said);
    free(text);
    settings_free(settings);
    clear_folder();
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_control_socket_does_not_lie_where_something_else_is,
        test_a_ledger_is_a_file_of_its_own,
        test_a_secret_that_others_can_read_is_told,
        test_an_open_secret_is_a_notice,
    };
    return suite_run("paths", tests, COUNT_OF(tests));
}
