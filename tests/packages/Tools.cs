namespace Cardassay.Packages.Tests;

/// <summary>What this machine must have; where it has not, a test skips, or fails with `CARDASSAY_REQUIRE_EMULATOR=1` (build machines).</summary>
internal static class Tools
{
    private const string Install =
        "apt-get install -y --no-install-recommends mmdebstrap systemd-container procps groff-base clang llvm binutils-aarch64-linux-gnu libgcc-12-dev-arm64-cross libc6-dev-arm64-cross";

    /// <summary>Skips the calling test unless the native agent can be published.</summary>
    internal static void RequirePublishing() => Require("clang", "llvm-objdump", "aarch64-linux-gnu-ld");

    /// <summary>Skips the calling test unless packages can be made and installed into a root of their own.</summary>
    internal static void RequireRoot()
    {
        RequirePublishing();
        Require("dpkg-deb", "mmdebstrap", "unshare", "tar");
        if (!Environment.IsPrivilegedProcess)
        {
            Unavailable("installing packages into a root of their own needs root");
        }
    }

    /// <summary>Skips the calling test unless all tools are there.</summary>
    internal static void Require(params string[] tools)
    {
        string[] folders = $"{Environment.GetEnvironmentVariable("PATH")}:/usr/sbin:/sbin".Split(':', StringSplitOptions.RemoveEmptyEntries);
        string[] missing = [.. tools.Where(tool => !folders.Any(folder => File.Exists(Path.Combine(folder, tool))))];
        if (missing.Length > 0)
        {
            Unavailable($"{string.Join(", ", missing)} not found; install with: {Install}");
        }
    }

    internal static void Unavailable(string reason)
    {
        if (Environment.GetEnvironmentVariable("CARDASSAY_REQUIRE_EMULATOR") == "1")
        {
            Assert.Fail(reason);
        }

        Skip.If(true, reason);
    }
}
