System.Console.WriteLine("cardassay-demo");
