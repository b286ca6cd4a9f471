using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Tests.Registers;
using Cardassay.Trials;

namespace Cardassay.Tests.Identity;

/// <summary>
/// A million inputs through every decoder and through judging: random text, random hex of the right length, real registers with
/// bits flipped, cut or joined. Nothing may throw, and a known register must encode to what was read.
/// </summary>
public class DecoderFuzzTests
{
    private const int Inputs = 1_000_000;
    private const int JudgedEvery = 20;
    private const int Seed = 20_250_615;
    private static readonly int[] Lengths = [32, 32, 32, 16, 128];

    [Fact]
    public void Decoders_AMillionInputs_NeverThrowAndLoseNothing()
    {
        Random random = new(Seed);
        int known = 0;
        for (int i = 0; i < Inputs; i++)
        {
            string text = Next(random);
            try
            {
                known += Decode(text);
                if (i % JudgedEvery == 0)
                {
                    Judge(random, text);
                }
            }
            catch (Exception e)
            {
                Assert.Fail($"seed {Seed}, input {i}, '{text}': {e}");
            }
        }

        Assert.InRange(known, Inputs / 2, 4 * Inputs); // else the inputs never reached the decoders
    }

    private static int Decode(string text)
    {
        string trimmed = text.Trim().ToLowerInvariant();
        int known = 0;
        void Check<T>(Reading<T> reading)
            where T : Register
        {
            if (reading.IsKnown)
            {
                known++;
                if (reading.Value!.Encode() != trimmed)
                {
                    throw new InvalidOperationException($"{typeof(T).Name} encodes to {reading.Value.Encode()}");
                }

                _ = reading.Value.ToString(); // reads every field
            }
            else if (string.IsNullOrEmpty(reading.Reason))
            {
                throw new InvalidOperationException($"{typeof(T).Name} gives no reason");
            }
        }

        Check(Cid.Parse(text));
        Check(MmcCid.Parse(text));
        Check(Csd.Parse(text));
        Check(MmcCsd.Parse(text));
        Check(Scr.Parse(text));
        Check(SdStatus.Parse(text));
        return known;
    }

    private static void Judge(Random random, string text)
    {
        Dictionary<string, Reading<string>> files = new() { ["type"] = Known(random.Next(8) == 0 ? "MMC" : random.Next(9) == 0 ? text : "SD") };
        foreach (string name in new[] { "cid", "csd", "scr", "ssr", "rev" })
        {
            files[name] = random.Next(10) switch
            {
                0 => Reading<string>.Unreadable(text),
                1 => Known(text),
                _ => Known(Hex(random, name switch { "scr" => 16, "ssr" => 128, "rev" => 2, _ => 32 })),
            };
        }

        CardRegisters registers = CardRegisters.From(files, random.NextInt64() - (long.MaxValue / 2), (Attachment)random.Next(5));
        CardRegisters other = registers with { Csd = Csd.Parse(Hex(random, 32)), Status = SdStatus.Parse(Hex(random, 128)) };
        Claim claim = new()
        {
            Tag = text,
            LabelGigabytes = random.Next(1, 2000) / 7m,
            Marks = [text, "V30", "A2"],
            Condition = (CardCondition)random.Next(3),
            Purchased = DateOnly.FromDayNumber(random.Next(3_000_000)),
        };
        CardEvidence evidence = new()
        {
            Registers = registers,
            Claim = claim,
            Today = random.Next(2) == 0 ? null : DateOnly.FromDayNumber(random.Next(3_000_000)),
            References = [other, RegisterVectors.V7.Registers()],
            Sightings = [new(text, text, null, DateTimeOffset.UnixEpoch, DateTimeOffset.MaxValue, other)],
            Marks = [new(text, random.Next(2) == 0, text)],
        };

        CardJudgement judgement = CardJudge.Judge(evidence);
        if (judgement.Findings.Any(f => f.Text.Length == 0) || CardFacts.Of(registers) is null)
        {
            throw new InvalidOperationException("a finding without text");
        }
    }

    private static string Next(Random random)
    {
        switch (random.Next(8))
        {
            case 0:
                return string.Concat(Enumerable.Range(0, random.Next(200)).Select(_ => (char)random.Next(random.Next(2) == 0 ? 128 : 65536)));
            case 1:
                string joined = Vector(random) + Vector(random);
                return joined[..random.Next(joined.Length + 1)];
            case 2:
                char[] damaged = Vector(random).ToCharArray();
                damaged[random.Next(damaged.Length)] = (char)random.Next(256);
                return new string(damaged);
            case 3:
                char[] flipped = Vector(random).ToCharArray();
                flipped[random.Next(flipped.Length)] = "0123456789abcdefABCDEF"[random.Next(22)];
                return " " + new string(flipped) + "\n";
            default:
                return Hex(random, Lengths[random.Next(Lengths.Length)]);
        }
    }

    private static string Vector(Random random)
    {
        RegisterVector v = RegisterVectors.All[random.Next(RegisterVectors.All.Count)];
        return random.Next(4) switch { 0 => v.Cid, 1 => v.Csd, 2 => v.Scr ?? v.Cid, _ => v.Ssr ?? v.Csd };
    }

    private static string Hex(Random random, int digits)
    {
        byte[] bytes = new byte[digits / 2];
        random.NextBytes(bytes);
        return Convert.ToHexStringLower(bytes);
    }

    private static Reading<string> Known(string text) => Reading<string>.Known(text);
}
