#include "priv.h"

#include <dirent.h>
#include <errno.h>
#include <grp.h>
#include <pwd.h>
#include <stdbool.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <unistd.h>

static bool is_empty(const char *dir)
{
    DIR *d = opendir(dir);
    bool empty = d != NULL;
    for (struct dirent *e; empty && (e = readdir(d)) != NULL;)
        empty = strcmp(e->d_name, ".") == 0 || strcmp(e->d_name, "..") == 0;
    if (d) closedir(d);
    return empty;
}

static const struct passwd *choose(const char *user, const struct stat *dir, struct cot_fault *fault)
{
    const struct passwd *p = NULL;
    if (user) {
        p = getpwnam(user);
        if (!p) cot_fail(fault, COT_USAGE, "--user %s: there is no such user", user);
    } else {
        if (dir && dir->st_uid != 0) p = getpwuid(dir->st_uid);
        if (!p) p = getpwnam("cotyledger");
        if (!p) p = getpwnam("nobody");
        if (!p) cot_fail(fault, COT_USAGE, "there is no user to run as");
    }
    if (p && p->pw_uid != 0) return p;
    if (p) cot_fail(fault, COT_USAGE, "cotyld does not run as root");
    cot_hint(fault, "name an ordinary user with --user");
    return NULL;
}

static enum cot_err become(const struct passwd *p, struct cot_fault *fault)
{
    if (initgroups(p->pw_name, p->pw_gid) != 0 || setgid(p->pw_gid) != 0 || setuid(p->pw_uid) != 0)
        return cot_fail(fault, COT_IO, "unable to become user %s: %s", p->pw_name, strerror(errno));
    if (setuid(0) == 0) return cot_fail(fault, COT_INTERNAL, "still able to become root");
    return COT_OK;
}

enum cot_err cot_drop_root(const char *user, const char *dir, struct cot_fault *fault)
{
    struct stat st = {0};
    bool made = dir && mkdir(dir, 0700) == 0;
    if (dir && !made && errno != EEXIST) return cot_fail(fault, COT_IO, "unable to make %s: %s", dir, strerror(errno));
    if (dir && (stat(dir, &st) != 0 || !S_ISDIR(st.st_mode)))
        return cot_fail(fault, COT_IO, "%s is not a directory", dir);
    prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0);
    if (geteuid() != 0) return COT_OK;
    const struct passwd *p = choose(user, dir ? &st : NULL, fault);
    if (!p) return fault ? fault->code : COT_USAGE;
    if (dir && st.st_uid == 0) {
        if (!made && !is_empty(dir)) {
            cot_fail(fault, COT_IO, "%s belongs to root and is not empty", dir);
            return cot_hint(fault, "give it to the user to run as: chown -R %s %s", p->pw_name, dir);
        }
        if (chown(dir, p->pw_uid, p->pw_gid) != 0 || chmod(dir, 0700) != 0)
            return cot_fail(fault, COT_IO, "unable to give %s to %s: %s", dir, p->pw_name, strerror(errno));
    }
    return become(p, fault);
}
