using Cardassay.Plans;

namespace Cardassay.Simulation.Tests.Plans;

/// <summary>Damages good plans at random: the reader either reads them or says where and what, and never anything else.</summary>
public sealed class PlanReaderFuzz
{
    private const int Seed = 20260131;
    private const int Inputs = 200_000;

    private static readonly string[] Pieces =
    [
        "{", "}", "[", "]", ",", ":", "\"", "null", "true", "-1", "0", "1e308", "99999999999999999999", "\"1 GiB\"", "\\ud800", "//", "/*", "\n", "\0", "\uFFFD", "\"kind\"",
    ];

    [Fact]
    public void Parse_DamagedPlans_AreReadOrRefusedWithAPlace()
    {
        var random = new Random(Seed);
        string[] originals = [.. BuiltInPlans.Names.Select(name => BuiltInPlans.Find(name)!.Text)];
        int read = 0;
        int refused = 0;
        for (int i = 0; i < Inputs; i++)
        {
            string text = Damage(originals[i % originals.Length], random);
            try
            {
                Plan plan = PlanReader.Parse(text, "fuzz");
                Assert.True(plan.Steps.Count > 0 || plan.Proof.IsWanted);
                Assert.All(plan.Steps, step => Assert.True(step.Seconds > 0 && step.BlockBytes % 4096 == 0 && (!step.Writes || step.Bytes > 0)));
                read++;
            }
            catch (PlanException error)
            {
                Assert.True(error.Line >= 1 && error.Column >= 1 && error.Problem.Length > 0 && error.Remedy.Length > 0, $"seed {Seed}, input {i}: {error.Message}");
                refused++;
            }
            catch (Exception error) when (error is not Xunit.Sdk.XunitException)
            {
                Assert.Fail($"seed {Seed}, input {i}: {error}\n{text}");
            }
        }

        // Both ways are taken often, or the damage tests nothing.
        Assert.True(read > Inputs / 50 && refused > Inputs / 2, $"{read} read, {refused} refused");
    }

    private static string Damage(string text, Random random)
    {
        for (int damage = random.Next(1, 4); damage > 0; damage--)
        {
            int at = random.Next(text.Length);
            int length = Math.Min(random.Next(1, 12), text.Length - at);
            text = random.Next(5) switch
            {
                0 => text.Remove(at, length),
                1 => text.Insert(at, Pieces[random.Next(Pieces.Length)]),
                2 => text.Insert(at, text.Substring(at, length)),
                3 => text.Remove(at, 1).Insert(at, ((char)random.Next(1, 0x300)).ToString()),
                _ => text[..at],
            };
            text = text.Length == 0 ? " " : text;
        }

        return text;
    }
}
