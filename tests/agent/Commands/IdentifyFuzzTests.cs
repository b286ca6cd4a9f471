using System.Text;
using System.Text.Json;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Agent.Tests.Commands;

/// <summary>The whole of `identify` over made-up trees: whatever the files hold, a page or a sentence comes out.</summary>
public class IdentifyFuzzTests
{
    private static readonly string[] Claims = ["--claim-gb=64", "--claim-marks=C10 U3 V30 A2", "--condition=new", "--purchased=2025-05-01", "--tag=T-1"];

    [Fact]
    public void Identify_RandomTrees_AlwaysAnswers()
    {
        int count = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1" ? 100_000 : 3_000;
        int doubted = 0;
        using FixtureTree fixture = new FixtureTree().Text("sys/devices/mmc0:0001/uevent", "").Link("sys/block/mmcblk0/device", "../../devices/mmc0:0001");
        for (int seed = 0; seed < count; seed++)
        {
            var random = new Random(seed);
            Fill(fixture, random);
            string[] claim = random.GetItems(Claims, random.Next(3));
            try
            {
                IdentifyRun page = IdentifyRun.Of(fixture.Root, "mmcblk0", [.. claim.Distinct()]);
                Assert.InRange(page.ExitCode, 0, 1);
                Assert.Null(page.Error);
                Assert.All(page.Output, c => Assert.True(c is '\n' or '\uFFFD' || (c >= ' ' && c < '\x7f'), $"U+{(int)c:X4}"));
                IdentifyRun json = IdentifyRun.Of(fixture.Root, "mmcblk0", [.. claim.Distinct(), "--json"]);
                using JsonDocument document = JsonDocument.Parse(json.Output);
                Assert.Equal(page.ExitCode, json.ExitCode);
                doubted += page.ExitCode;
            }
            catch (Exception e)
            {
                Assert.Fail($"seed {seed}: {e}");
            }
        }

        // Both outcomes were reached, so the trees are neither all junk nor all fine.
        Assert.InRange(doubted, count / 10, count * 9 / 10);
    }

    private static void Fill(FixtureTree fixture, Random random)
    {
        const string device = "sys/devices/mmc0:0001/";
        foreach (string name in CardFiles.Names)
        {
            fixture.Remove(device + name);
        }

        RegisterVector vector = RegisterVectors.Vectors[random.Next(RegisterVectors.Vectors.Count)];
        (string Name, string? Text)[] files =
        [
            ("type", random.Next(10) == 0 ? "SDIO" : vector.Type), ("cid", vector.Cid), ("csd", vector.Csd), ("scr", vector.Scr), ("ssr", vector.Ssr),
            ("rev", vector.Type == "MMC" ? "0x6" : null), ("life_time", vector.Type == "MMC" ? "0x01 0x02" : null), ("pre_eol_info", "0x01"),
        ];
        foreach ((string name, string? text) in files)
        {
            if (text is not null && random.Next(12) > 0)
            {
                fixture.Bytes(device + name, Damage(Encoding.Latin1.GetBytes(text + "\n"), random));
            }
        }

        fixture.Bytes("sys/kernel/debug/mmc0/ios", Damage(Encoding.Latin1.GetBytes("clock:\t\t50000000 Hz\nbus width:\t2 (4 bits)\ntiming spec:\t2 (sd high-speed)\n"), random));
        fixture.Text("sys/block/mmcblk0/size", random.Next(5) == 0 ? random.NextInt64().ToString() : (vector.SizeBytes / 512).ToString());
    }

    // Nothing, a hex digit changed (a register that still decodes), or bytes changed, cut and repeated.
    private static byte[] Damage(byte[] bytes, Random random)
    {
        switch (random.Next(12))
        {
            case 0:
                bytes[random.Next(bytes.Length)] = (byte)"0123456789abcdef"[random.Next(16)];
                return bytes;
            case 1:
                bytes[random.Next(bytes.Length)] = (byte)random.Next(256);
                return bytes;
            case 2:
                return bytes[..random.Next(bytes.Length)];
            case 3:
                return [.. Enumerable.Repeat(bytes, random.Next(1, 20)).SelectMany(b => b)];
            case 4:
                random.NextBytes(bytes);
                return bytes;
            default:
                return bytes;
        }
    }
}
